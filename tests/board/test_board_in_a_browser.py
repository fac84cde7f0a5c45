"""The board as people meet it: in a real Chromium, driven by keys."""

import socket
import subprocess
import sys
import threading
import time

import pytest
from browser import PATIENCE, arrive, caught_up
from seated import PLAN, Chair

from sidecue.session.events import CueGiven, Source
from sidecue.session.state import Mode

pytestmark = pytest.mark.xdist_group("browser")

KEYS = ("Enter", " ", "PageDown")  # three keys in turn: the same one twice in a row is a slip
PLACE = """() => ['#say', '#count', '#main-phrases', '#heard']
  .map((each) => document.querySelector(each).textContent)
  .join('|') + document.body.dataset.mode"""


@pytest.fixture
def chair():
    seated = Chair()
    yield seated
    seated.stop()


def place(page):
    return page.evaluate(PLACE)


# Counts what the page has asked the board for and got no answer to yet.
ASKING = """() => {
  if ('unanswered' in window) return;
  const own = window.fetch;
  window.unanswered = 0;
  window.fetch = (...asked) => {
    window.unanswered += 1;
    return own(...asked).finally(() => { window.unanswered -= 1; });
  };
}"""


def press(page, key, chair):
    """Press a key, and wait until the page shows all that came of it, if anything did."""
    page.evaluate(ASKING)
    page.keyboard.press(key)
    arrive(page, "window.unanswered === 0")
    caught_up(page, chair)


def set_pedal(page, role, key):
    page.click("#pedal")
    page.locator("#pedals-list li", has_text=role).get_by_role("button").click()
    assert "Press your pedal now" in page.inner_text("#pedals-ask")
    page.keyboard.press(key)
    page.get_by_role("button", name="Close").click()


def test_a_whole_class_ii_composite_by_keys_and_pedal(chair, screen):
    page = screen(chair.url, 1280, 720)
    set_pedal(page, "Step begun or done", "PageDown")
    caught_up(page, chair)
    refused = 0
    for number in range(400):
        if chair.state.mode is Mode.FINISHED:
            break
        before = chair.state
        press(page, "y" if before.question else KEYS[number % 3], chair)
        stayed = (chair.state.step, chair.state.under_way) == (before.step, before.under_way)
        if stayed and chair.state.question is None:
            refused += 1
            chair.jump(20)
            caught_up(page, chair)
    assert chair.state.mode is Mode.FINISHED
    assert chair.state.done == tuple(step.id for step in PLAN.steps)
    assert not chair.state.skips
    assert "complete" in page.inner_text("#say")
    events = chair.journal.events(chair.conductor.session)
    sources = {event.source for event in events if isinstance(event, CueGiven)}
    assert sources == {Source.KEY, Source.PEDAL}
    assert refused > 5  # timers did hold


def test_what_is_typed_or_said_elsewhere_shows_with_what_came_of_it(chair, screen):
    page = screen(chair.url)
    chair.type("what about lunch")
    page.wait_for_selector("#heard[data-taken=false]")
    assert "not taken" in page.inner_text("#heard")
    chair.type(f"{PLAN.address} {PLAN.steps[0].done.phrases[0]}")
    page.wait_for_selector("#heard[data-taken=true]")
    assert PLAN.steps[0].done.phrases[0] in page.inner_text("#heard")
    assert page.inner_text("#say") == PLAN.steps[1].say


def test_a_key_held_down_or_tapped_twice_counts_once(chair, screen):
    page = screen(chair.url)
    page.evaluate(ASKING)
    page.keyboard.down("Enter")
    for _ in range(10):
        page.keyboard.down("Enter")  # repeats, as while a pedal is stood on
    page.keyboard.up("Enter")
    page.keyboard.press("Enter")
    arrive(page, "window.unanswered === 0")
    chair.wait_for(lambda state: bool(state.done))
    caught_up(page, chair)
    assert chair.state.done == (PLAN.steps[0].id,)


def test_a_pedal_held_down_talks_without_the_address(chair, screen):
    chair.board.metered(chair._source)
    page = screen(chair.url)
    set_pedal(page, "Hold to talk", "F9")
    page.wait_for_selector(".ear[data-state=listening]")
    assert not chair.conductor.vocabulary(chair.clock.now()).bare
    page.keyboard.down("F9")
    page.wait_for_selector(".ear[data-state=held]")
    assert chair.conductor.vocabulary(chair.clock.now()).bare
    page.wait_for_timeout(1500)  # told again and again: it does not lapse while it is held
    assert chair.conductor.vocabulary(chair.clock.now()).bare
    page.keyboard.up("F9")
    page.wait_for_selector(".ear[data-state=listening]")
    assert not chair.conductor.vocabulary(chair.clock.now() + 1).bare
    assert chair.state.done == ()


def test_a_hold_that_was_not_taken_once_is_told_again_while_the_foot_is_down(chair, screen):
    chair.board.metered(chair._source)
    page = screen(chair.url)
    set_pedal(page, "Hold to talk", "F9")
    page.wait_for_selector(".ear[data-state=listening]")
    page.route("**/talk", lambda route: route.abort())
    page.keyboard.down("F9")
    arrive(page, "document.querySelector('#note').textContent === 'Not heard: no connection.'")
    page.unroute("**/talk")
    page.wait_for_selector(".ear[data-state=held]")
    arrive(page, "document.querySelector('#note').textContent === ''")
    page.keyboard.up("F9")
    page.wait_for_selector(".ear[data-state=listening]")
    assert not chair.conductor.vocabulary(chair.clock.now() + 1).bare


def test_one_pedal_taps_for_next_and_yes_and_talks_while_it_is_held(chair, screen):
    chair.board.metered(chair._source)
    chair.go_to("log-anaesthetic")
    page = screen(chair.url)
    set_pedal(page, "One pedal for all", "F8")
    page.wait_for_selector(".ear[data-state=listening]")
    chair.type(f"{PLAN.address} one cartridge lidocaine")
    page.wait_for_selector("body[data-mode=asking]")
    page.keyboard.press("F8")
    chair.wait_for(lambda state: bool(state.values))
    before = chair.state.step
    page.wait_for_timeout(450)  # a tap sooner than this is a slip
    page.keyboard.down("F8")
    page.wait_for_selector(".ear[data-state=held]")
    page.wait_for_timeout(400)  # longer than a tap
    page.keyboard.up("F8")
    page.wait_for_selector(".ear[data-state=listening]")
    assert chair.state.step == before
    page.wait_for_timeout(450)
    page.keyboard.press("F8")
    chair.wait_for(lambda state: state.step != before)


def test_what_was_counted_stays_on_the_screen(chair, screen):
    chair.go_to("log-anaesthetic")
    page = screen(chair.url)
    slot = next(each for each in chair.shown["phrases"] if each.get("choices"))
    page.locator("#run button", has_text=slot["phrase"]).click()
    one = next(each for each in slot["choices"] if each["phrase"].startswith("one cartridge"))
    page.locator("#choices-list").get_by_role("button", name=one["phrase"], exact=True).click()
    page.wait_for_selector("body[data-mode=asking]")
    press(page, "y", chair)
    page.wait_for_selector("#recorded .count")
    assert page.inner_text("#recorded .count").startswith("1 cartridge, ")


def test_a_second_screen_shows_the_same_and_changes_nothing(chair, screen):
    page, other = screen(chair.url), screen(f"{chair.url}watch", 1280, 720)
    assert other.locator("#run button").count() == 0
    for key in ("Enter", "p", "u", "1", "k"):
        press(other, key, chair)
    assert chair.state.done == ()
    assert chair.state.mode is Mode.RUNNING
    press(page, "Enter", chair)
    other.wait_for_function("(say) => document.querySelector('#say').textContent === say",
                            arg=PLAN.steps[1].say)  # fmt: skip


def test_two_chairs_do_not_hear_of_each_other(chair, screen):
    """Each has its own port, journal and permission."""
    other = Chair()
    try:
        page, second = screen(chair.url), screen(other.url)
        assert chair.url != other.url
        press(page, "Enter", chair)
        assert chair.state.done
        caught_up(second, other)
        assert other.state.done == ()
        press(second, "p", other)
        assert other.state.mode is Mode.PAUSED
        assert chair.state.mode is Mode.RUNNING
        answer = second.request.post(
            f"{chair.url}cue",
            data={"cue": "pause", "by": "key", "scene": ""},
            headers={"x-board-token": second.evaluate("document.documentElement.dataset.token")},
        )
        assert answer.status == 403
    finally:
        other.stop()


def test_a_question_shows_how_long_it_waits(chair, screen):
    chair.go_to("log-anaesthetic")
    page = screen(chair.url)
    chair.type(f"{PLAN.address} one cartridge lidocaine")
    page.wait_for_selector("body[data-mode=asking]")
    arrive(page, "/^within [5-9] s, else no$/.test(document.querySelector('#within').textContent)")
    chair.jump(3)
    arrive(page, "/^within [1-4] s, else no$/.test(document.querySelector('#within').textContent)")
    chair.jump(6)
    page.wait_for_selector("body[data-mode=running]")  # silence was the answer
    assert page.locator("#within").is_hidden()
    assert chair.state.values == ()


def program(command, port, folder):
    """The real program, as a person starts it; lines written to it are keys."""
    code = "import sys; from sidecue.cli.main import run; sys.exit(run(sys.argv[1:]))"
    return subprocess.Popen(
        [sys.executable, "-c", code, *command, "--board", "--engine", "text", "--mute",
         "--port", str(port), "--store", str(folder / "visit.sqlite3"), "--out", str(folder)],
        stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True, bufsize=1,
    )  # fmt: skip


def seconds_of(text):
    minutes, seconds = text.split(":")
    return int(minutes) * 60 + int(seconds)


def read_clock(page):
    """Return the seconds the first timer shows, and between which moments that was."""
    before = time.monotonic()
    return seconds_of(page.inner_text(".clock .number")), (before, time.monotonic())


def test_killed_and_started_again_in_the_middle_of_a_timer(screen, tmp_path):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    killed, again = program(["run", "composite-46-mo"], port, tmp_path), None
    try:
        page = screen(f"http://127.0.0.1:{port}/", wait=PATIENCE)
        for _ in range(60):
            if page.locator("#clocks .clock").count():
                break
            asking = page.evaluate("document.body.dataset.mode") == "asking"
            before = place(page)
            killed.stdin.write("y\n" if asking else "\n")
            page.wait_for_function(f"(before) => ({PLACE})() !== before", arg=before)
        page.wait_for_selector(".clock[data-phase=left], .clock[data-phase=wait]")
        step = page.inner_text("#say")
        left, at = read_clock(page)
        killed.kill()
        killed.wait()
        page.wait_for_selector("body[data-link=lost]")
        assert "CONNECTION LOST" in page.inner_text("#link")
        assert not any(each.isdigit() for each in page.inner_text(".clock .number"))
        assert "not live" in page.inner_text(".clock .word")
        page.keyboard.press("Enter")
        assert "no connection" in page.inner_text("#note")

        again = program(["resume"], port, tmp_path)
        page.wait_for_selector("body[data-link=live]")
        page.wait_for_selector(".clock[data-phase=left], .clock[data-phase=wait]")
        assert page.inner_text("#say") == step
        assert page.inner_text("#link") == ""
        now, then = read_clock(page)
        # Each reading took a while; the clock is right if it is for any moment of it.
        assert left - (then[1] - at[0]) - 1.5 <= now <= left - (then[0] - at[1]) + 1.5
        page.keyboard.press("p")
        page.wait_for_selector("body[data-mode=paused]")  # its new permission works
        assert page.inner_text("#mode") == "PAUSED"
    finally:
        for each in (killed, again):
            if each is not None:
                each.kill()
                each.wait()


@pytest.mark.parametrize("how", ["hangs", "is gone"])
def test_a_line_that_is_lost_is_told_within_three_seconds(chair, screen, how):
    """Counted on the page's own clock. A program that hangs keeps its line open, in silence."""
    chair.go_to("check-cartridge")
    page = screen(chair.url)
    page.clock.install()
    page.reload()
    arrive(page, "document.body.dataset.link === 'live'")
    page.wait_for_selector(".clock")
    held, go_on = threading.Event(), threading.Event()
    chair.board.feed._loop.call_soon_threadsafe(lambda: (held.set(), go_on.wait(PATIENCE)))
    assert held.wait(PATIENCE)
    if how == "is gone":
        page.context.set_offline(True)
        for line in list(chair.board._server._server.server_state.connections):
            line.transport.get_extra_info("socket").shutdown(socket.SHUT_RDWR)
    try:
        page.clock.run_for(3000)
        assert page.evaluate("document.body.dataset.link") == "lost"
        assert "CONNECTION LOST" in page.inner_text("#link")
        assert not any(each.isdigit() for each in page.inner_text(".clock .number"))
    finally:
        go_on.set()
        page.context.set_offline(False)


def test_a_board_that_closes_says_so(chair, screen):
    page = screen(chair.url)
    chair.board.close()
    page.wait_for_selector("body[data-link=over]")
    assert "closed" in page.inner_text("#link")


def test_an_overdue_timer_differs_in_word_sign_and_shape(chair, screen):
    chair.go_to("rinse-etch")
    page = screen(chair.url)
    chair.jump(20)
    page.wait_for_selector(".clock[data-phase=over]")
    over = page.locator(".clock[data-phase=over]").first
    assert "OVERDUE" in over.inner_text()
    assert over.locator(".number").inner_text().startswith("+")
    drawn = {
        each.get_attribute("data-phase"): each.locator("svg").inner_html()
        for each in page.locator(".clock").all()
    }
    assert len(set(drawn.values())) == len(drawn)


def test_timers_count_by_themselves_between_two_messages(chair, screen):
    chair.go_to("check-cartridge")
    page = screen(chair.url)
    page.evaluate("""() => {
      window.seen = new Set();
      new MutationObserver(() => seen.add(document.querySelector('.clock .number').textContent))
        .observe(document.querySelector('#clocks'), {subtree: true, childList: true});
    }""")
    arrive(page, "window.seen.size >= 3")


def test_an_emergency_is_one_key_away_and_so_is_the_way_back(chair, screen):
    page = screen(chair.url)
    key = next(each["key"] for each in chair.shown["phrases"] if each["group"] == "emergency")
    press(page, key, chair)
    assert chair.state.emergency is not None
    assert page.inner_text("#mode") == "EMERGENCY"
    lines = page.locator("#say span").all_inner_texts()
    assert lines == list(next(e for e in PLAN.emergencies if e.id == chair.state.emergency).says)
    assert page.locator("#hand").is_hidden()
