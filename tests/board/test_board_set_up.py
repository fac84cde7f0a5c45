"""A case set up on the page: picked on the arch or typed, planned, and started."""

import socket
from queue import SimpleQueue
from threading import Thread

import pytest
from browser import until
from seated import ACROSS_THE_ROOM, PLAN, Chair

from sidecue.cli.boarding import Board
from sidecue.cli.case_setup import CaseSetup
from sidecue.cli.listening import Wanted
from sidecue.cli.main import run
from sidecue.cli.spoken_setup import SpokenSetUp
from sidecue.conductor.assembly import Output
from sidecue.conductor.running import Typed
from sidecue.conductor.telling_case import Begun, Entered

pytestmark = pytest.mark.xdist_group("browser")


class Room:
    """A board without a visit, that remembers which plans were started."""

    def __init__(self, practice):
        self.begun = []
        self.setup = CaseSetup(practice, None, self.begin, lambda: None)
        self.board = Board(0, ACROSS_THE_ROOM, self.setup.take)
        self.board.publish(self.setup.blank({}))

    def begin(self, planned):
        self.begun.append(planned)
        return len(self.begun) == 1


@pytest.fixture
def room():
    rooms = []

    def open_(practice="example"):
        rooms.append(Room(practice))
        return rooms[-1]

    yield open_
    for each in rooms:
        each.board.close()


def choose(page, **fields):
    for name, value in fields.items():
        page.select_option(f"select[name={name}]", value)


def no_more_warnings(page):
    page.get_by_label("No more warnings").check()


CASE = {"tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam",
        "anaesthetic": "none", "depth-mm": 4}  # fmt: skip


def test_nobody_starts_before_the_warnings_are_told(room, screen):
    """An allergy that nobody was asked about is not an allergy that is not there."""
    here = room()
    here.board.publish(here.setup.blank(CASE))
    page = screen(here.board.url, 1400, 900)
    page.wait_for_selector("text=Which warnings are there for this patient?")
    assert page.locator(".start").is_disabled()
    page.get_by_label("latex").check()  # one is told; there may be others
    page.wait_for_selector("text=latex")
    assert page.locator(".start").is_disabled()
    page.get_by_role("button", name="Answer", exact=True).click()
    page.keyboard.press("Space")
    page.wait_for_selector(".start:enabled")
    page.get_by_label("No more warnings").uncheck()
    page.wait_for_selector(".start:disabled")
    # The page holds the start back, and so does the board, whoever asks.
    for told in ({}, {"told": []}, {"told": "flags"}, {"told": ["clamp"]}):
        assert "faults" in here.setup.take({"do": "start", "entry": CASE, **told})
    assert here.begun == []
    no_more_warnings(page)
    page.wait_for_selector(".start:enabled")
    page.click(".start")
    until(lambda: here.begun, "the start")


def test_the_next_patient_is_asked_about_anew(room):
    setup = room().setup
    asked = {"do": "plan", "entry": CASE}
    assert setup.take({**asked, "told": ["flags"]})["startable"]
    setup.take({"do": "next"})
    assert not setup.warnings_told
    assert not setup.take(asked)["startable"]


def test_what_was_told_of_one_patient_says_nothing_of_the_next():
    requests = SimpleQueue()
    setup = CaseSetup("example", None, lambda _plan: True, lambda: None)
    spoken = SpokenSetUp(setup, Wanted("text"), Output(mute=True), requests)
    setup.take({"do": "plan", "entry": CASE, "told": ["flags"]})
    requests.put(Begun(PLAN))  # the next set-up is over at once
    assert spoken.run({}, None) == PLAN
    assert not setup.warnings_told


def test_a_case_is_picked_planned_and_started(room, screen):
    here = room()
    page = screen(here.board.url, 1400, 900)
    page.wait_for_selector("text=Still to choose")
    page.get_by_role("button", name="46, lower right first molar").click()
    assert page.input_value("input[name=tooth]") == "46"
    for surface in ("Occlusal", "Mesial"):
        page.get_by_role("button", name=surface).click()
    choose(page, material="composite", isolation="dam", anaesthetic="none")
    page.wait_for_selector("text=How deep is the cavity")
    assert page.locator(".start").is_disabled()
    page.get_by_role("button", name="Answer", exact=True).last.click()
    page.keyboard.type("4")
    assert page.input_value("input[name=depth-mm]") == "4"
    no_more_warnings(page)
    page.wait_for_selector(".start:enabled")
    assert page.inner_text(".plan-case") == "46 MO · composite · dam"
    assert page.locator(".tray-list li svg").count() > 30
    page.click(".start")
    until(lambda: here.begun, "the start")
    assert [each.case_line for each in here.begun] == ["46 MO · composite · dam"]


def test_missing_teeth_the_clamp_and_the_lights_distance_are_entered_here_too(room, screen):
    """The clamp goes one tooth further back, unless none stands there: dam teaching (memory)."""
    here = room()
    here.board.publish(here.setup.blank({
        "tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam",
        "anaesthetic": "none", "depth-mm": 4,
    }))  # fmt: skip
    page = screen(here.board.url, 1400, 900)
    no_more_warnings(page)
    page.wait_for_selector(".start:enabled")
    page.fill("input[name=missing]", "47, 45")
    page.fill("input[name=clamp]", "212")
    page.fill("input[name=tip-distance-mm]", "6")
    page.wait_for_selector("text=clamp 212 is a cervical clamp")
    page.wait_for_selector("text=no tooth on the mesial side")
    page.wait_for_selector("text=the floor is 6 mm from the tip")
    page.fill("input[name=missing]", "47 46")
    page.wait_for_selector(".fault")
    assert "46 is the tooth to be treated" in page.inner_text(".fault")
    page.fill("input[name=missing]", "47")
    page.wait_for_selector(".start:enabled")
    page.click(".start")
    until(lambda: here.begun, "the start")
    decided = {each.name: each.text for each in here.begun[0].preparations}
    assert decided["clamp"].startswith("chosen clamp (212) on 46")


def test_a_tooth_is_reached_by_keyboard_alone(room, screen):
    page = screen(room().board.url, 1400, 900)
    page.get_by_role("button", name="36, lower left first molar").focus()
    page.keyboard.press("Enter")
    assert page.input_value("input[name=tooth]") == "36"


def test_a_case_that_cannot_be_gets_one_clear_line(room, screen):
    here = room()
    page = screen(here.board.url, 1400, 900)
    page.fill("input[name=tooth]", "46")
    page.fill("input[name=surfaces]", "I")
    choose(page, material="composite", isolation="dam")
    page.wait_for_selector(".fault")
    assert "incisal edge" in page.inner_text(".fault")
    assert page.locator(".start").count() == 0
    assert here.begun == []


def test_open_questions_hold_the_start_back(room, screen):
    here = room("unfinished")
    page = screen(here.board.url, 1400, 900)
    page.fill("input[name=tooth]", "46")
    page.fill("input[name=surfaces]", "MO")
    choose(page, material="composite", isolation="dam")
    page.wait_for_selector("text=Answer first")
    assert page.locator(".start").is_disabled()
    # The page holds it back, and so does the board, whoever asks.
    asked = {"do": "start", "entry": {
        "tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam",
    }}  # fmt: skip
    assert here.setup.take(asked) == {"faults": ["answer the open questions first"]}
    assert here.begun == []


def test_a_second_screen_does_not_set_up_cases(room, screen):
    page = screen(f"{room().board.url}watch", 1400, 900)
    page.wait_for_selector("text=on the other screen")
    assert page.locator("#setup input, #setup button").count() == 0


def test_a_second_screen_sees_what_was_chosen(room, screen):
    here = room()
    here.board.publish(here.setup.blank({"tooth": "46", "surfaces": "MO", "flags": ["latex"]}))
    page = screen(f"{here.board.url}watch", 1280, 720)
    page.wait_for_selector(".chosen dd")
    assert page.locator(".chosen dd").all_inner_texts() == ["46", "MO", "latex"]


def test_no_button_of_the_board_lies_on_the_case(room, screen):
    """At 320 pixels too; and there the tray stands in two columns."""
    here = room()
    entry = {"tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam"}
    here.board.publish(here.setup.blank(entry))
    page = screen(here.board.url, 320, 640)
    page.wait_for_selector(".tray-list li")
    main, tools = (page.locator(each).bounding_box() for each in ("#setup", ".tools"))
    assert tools["y"] >= main["y"] + main["height"] - 1
    first, second = (page.locator(".tray-list li").nth(n).bounding_box() for n in (0, 1))
    assert first["y"] == second["y"]
    assert not page.evaluate("document.documentElement.scrollWidth > innerWidth")


@pytest.mark.parametrize(
    "asked", [{}, {"do": "burn"}, {"do": "plan"}, {"do": "plan", "entry": {"nonsense": 1}},
              {"do": "start", "entry": {"tooth": ["46"]}}],
)  # fmt: skip
def test_what_cannot_be_read_is_told_and_starts_nothing(asked):
    begun = []
    setup = CaseSetup("example", None, begun.append, lambda: None)
    answer = setup.take(asked)
    assert answer["faults"]
    assert all("\n" not in each for each in answer["faults"])
    assert begun == []


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--screen", "0"), "a screen of 0 inches"),
        (("--distance", "-1"), "a distance of -1 m"),
        (("--port", "99999"), "port 99999 cannot be used"),
    ],
)
def test_a_board_that_cannot_be_is_one_clear_line(capsys, tmp_path, options, told):
    code = run(["board", "--engine", "text", "--out", str(tmp_path), *options])
    err = capsys.readouterr().err
    assert code == 2
    assert told in err
    assert len(err.splitlines()) == 1


def test_a_port_in_use_is_one_clear_line(capsys, tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        code = run(["run", "--board", "--engine", "text", "--port", port, "--out", str(tmp_path)])
    assert code == 2
    assert "give another --port" in capsys.readouterr().err


@pytest.fixture
def talking():
    """A board on which a case is being told, phrases typed in place of said."""
    requests = SimpleQueue()
    setup = CaseSetup("example", None, lambda plan: requests.put(Begun(plan)) or True,
                      lambda: None, lambda entry: requests.put(Entered(entry)))  # fmt: skip
    spoken = SpokenSetUp(setup, Wanted("text"), Output(mute=True), requests)
    board, begun = Board(0, ACROSS_THE_ROOM, setup.take), []
    thread = Thread(target=lambda: begun.append(spoken.run({}, board)), daemon=True)
    thread.start()
    board.say = lambda *phrases: [requests.put(Typed(phrase)) for phrase in phrases]
    board.begun, board.thread = begun, thread
    yield board
    requests.put(Begun(PLAN))
    thread.join(5)
    board.close()


def test_a_case_is_told_and_filled_in_on_the_page_in_any_mixture(talking, screen):
    page = screen(talking.url, 1400, 900)
    page.wait_for_selector("text=Tell the tooth.")
    talking.say("okay tray tooth number four six")
    page.wait_for_selector(".talk-said.asks")
    assert page.input_value("input[name=tooth]") == ""
    talking.say("what about lunch")
    page.wait_for_selector("text=not taken")
    # Said again in one go: on a slow machine the read-back may have lapsed meanwhile.
    talking.say(
        "okay tray tooth number four six",
        "confirm that",
        "surfaces mesial occlusal",
        "confirm that",
    )
    page.wait_for_function("() => document.querySelector('[name=surfaces]')?.value === 'MO'")
    page.select_option("select[name=material]", "composite")
    page.select_option("select[name=isolation]", "dam")
    page.wait_for_selector("text=Answer first")  # the page's part has reached the voice's
    talking.say("okay tray change the depth", "depth four millimetres", "confirm that")
    page.wait_for_function("() => document.querySelector('[name=depth-mm]')?.value === '4'")
    no_more_warnings(page)
    page.wait_for_selector(".start:enabled")
    assert page.input_value("select[name=material]") == "composite"
    talking.say("okay tray start the visit", "confirm that")
    talking.thread.join(60)
    assert [plan.case_line for plan in talking.begun] == ["46 MO · composite · dam"]


def test_warnings_told_by_voice_are_told_on_the_page(talking, screen):
    page = screen(talking.url, 1400, 900)
    page.wait_for_selector("text=Tell the tooth.")
    talking.say("okay tray change the warnings", "okay tray no more warnings")
    page.wait_for_function("() => document.querySelector('[name=no-more-warnings]')?.checked")


def test_warnings_told_on_the_page_are_not_asked_for_by_voice(talking, screen):
    page = screen(talking.url, 1400, 900)
    page.wait_for_selector("text=Tell the tooth.")
    talking.say("okay tray change the warnings")
    page.wait_for_selector("text=Tell each warning, then no more warnings.")
    no_more_warnings(page)
    page.wait_for_selector("text=Tell the tooth.")
    assert page.locator("text=Tell each warning").count() == 0
    assert page.get_by_label("No more warnings").is_checked()


def test_amalgam_is_set_up_for_today(room):
    """The law on amalgam goes by the day of the visit, which is today's."""
    answer = room().setup.take({"do": "plan", "entry": {
        "tooth": "46", "surfaces": "O", "material": "amalgam", "isolation": "dam",
        "age-years": 40}})  # fmt: skip
    assert not any("which day" in each["ask"] for each in answer["questions"])


def test_after_a_visit_the_next_case_is_asked_for(screen):
    asked = []
    setup = CaseSetup("example", None, lambda _plan: True, lambda: asked.append("next"))
    chair = Chair(prepare=setup.take)
    try:
        chair.board.leave(("record.md",))
        page = screen(chair.url)
        page.click("text=Set up the next case")
        until(lambda: asked, "the next case")
        assert asked == ["next"]
    finally:
        chair.stop()
