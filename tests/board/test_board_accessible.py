"""axe-core finds nothing wrong with any page: the visit, the set-up, the pedal's dialogue, pairing.

axe-core's own rules (WCAG 2.2 A and AA, best practices) and its 7:1 contrast (AAA)."""

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from seated import ACROSS_THE_ROOM, Chair

from sidecue.cli.boarding import Board
from sidecue.cli.case_setup import CaseSetup

pytestmark = pytest.mark.xdist_group("browser")
OPTIONS = {"rules": {"color-contrast-enhanced": {"enabled": True}}}
AXE = AXE_FILE_PATH.read_text("utf-8")


#: What another dress of the same page can change.
COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast", "color-contrast-enhanced"]}}


def wrong(page, options=OPTIONS):
    """What axe-core complains of, a line each."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE)  # by the debugger: the page's policy lets no script in
    found = page.evaluate("(options) => axe.run(document, options)", options)
    return [
        f"{each['id']}: {node['html'][:120]} {node['failureSummary'][:200]}"
        for each in found["violations"]
        for node in each["nodes"]
    ]


@pytest.fixture(scope="module")
def chair():
    seated = Chair(lan="127.0.0.2")
    seated.go_to("log-anaesthetic")
    yield seated
    seated.stop()


def test_the_visit(chair, screen):
    page = screen(chair.url, color_scheme="light", reduced_motion="reduce")
    page.wait_for_selector("#main-phrases li")
    assert wrong(page) == []
    page.emulate_media(color_scheme="dark")
    assert wrong(page, COLOURS) == []
    page.click("#pedal")
    assert wrong(page) == []
    page.keyboard.press("Escape")
    page.evaluate("document.documentElement.removeAttribute('lang')")
    assert wrong(page) != [], "a fault is found"


def test_the_second_screen(chair, screen):
    assert wrong(screen(f"{chair.url}watch", 1280, 720)) == []


def test_pairing(chair, screen):
    url = f"https://127.0.0.2:{chair.board.port}/"
    assert wrong(screen(url, 800, 1200, ignore_https_errors=True, live=False)) == []


def test_setting_up_a_case(screen):
    setup = CaseSetup("example", None, lambda _plan: True, lambda: None)
    board = Board(0, ACROSS_THE_ROOM, setup.take)
    board.publish(setup.blank({"tooth": "46", "surfaces": "MO", "material": "composite",
                               "isolation": "dam"}))  # fmt: skip
    try:
        page = screen(board.url, 1400, 900, color_scheme="light")
        page.wait_for_selector("text=Answer first")
        page.wait_for_selector(".tray-list li svg")
        assert wrong(page) == []
        page.emulate_media(color_scheme="dark")
        assert wrong(page, COLOURS) == []
    finally:
        board.close()
