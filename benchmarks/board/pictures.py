"""Make the board's pictures for the README from the board itself, in the Chromium of this machine.

    python -m benchmarks.board.pictures

Run it after any change of the look.
"""

from __future__ import annotations

import io
import sys
from pathlib import Path

from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "board"))

from browser import launched, opened, settled
from playwright.sync_api import sync_playwright
from seated import ACROSS_THE_ROOM, Chair

from sidecue.board.sizes import Viewing
from sidecue.cli.boarding import Board
from sidecue.cli.case_setup import CaseSetup

DOCS = Path(__file__).parents[2] / "docs"
WIDE = 1000  # pixels
CASE = {
    "tooth": "46",
    "surfaces": "MO",
    "material": "composite",
    "isolation": "dam",
    "depth-mm": 4,
}


def keep(page, name: str, *, grey: bool = False) -> None:
    """Write what the page shows, small: few colours are enough for what it is made of."""
    picture = Image.open(io.BytesIO(page.screenshot())).convert("L" if grey else "RGB")
    picture = picture.resize((WIDE, round(picture.height * WIDE / picture.width)))
    few = picture.quantize(16 if grey else 64, Image.Quantize.MAXCOVERAGE if not grey else None)
    few.save(DOCS / f"{name}.png", optimize=True)


def visit(browser) -> None:
    """The middle of etching; the same too late, in the dark and without colours."""
    chair = Chair(viewing=Viewing(32, 2.5))
    chair.board.metered(chair._source)
    chair.go_to("etch-dentine")
    page = opened(browser, chair.url, reduced_motion="reduce")
    settled(page)
    keep(page, "board-light")
    chair.go_to("rinse-etch")
    chair.clock.jump(20)
    page.emulate_media(color_scheme="dark")
    page.wait_for_selector(".clock[data-phase=over]")
    settled(page)
    keep(page, "board-overdue-dark")
    page.emulate_media(color_scheme="light")
    settled(page)
    keep(page, "board-overdue-grey", grey=True)
    chair.stop()


def set_up(browser) -> None:
    """A case that is ready to start."""
    setup = CaseSetup("example", None, lambda _plan: True, lambda: None)
    board = Board(0, ACROSS_THE_ROOM, setup.take)
    board.publish(setup.blank(CASE))
    page = opened(browser, board.url, 1400, 1390)  # all that is asked for
    page.get_by_label("No more warnings").check()
    page.wait_for_selector(".start:enabled")
    page.wait_for_selector(".tray-list li svg")
    page.wait_for_function("() => !document.querySelector('.tray-list .picture:empty')")
    keep(page, "board-set-up")
    board.close()


def main() -> None:
    """Make all four."""
    with sync_playwright() as playwright:
        browser = launched(playwright)
        visit(browser)
        set_up(browser)
        browser.close()


if __name__ == "__main__":
    main()
