"""How soon the board shows what happened, and whether its memory stays flat.

    python -m benchmarks.board.board_figures [--decoding 2] [--events 100] [--pages 4000]

Event to pixels: from a phrase put in the session's queue to the second animation frame after the
page changed, in the Chromium of this machine, while `--decoding` processes decode the demo's
recording. Memory: the page's heap, garbage collected, before and after as many pages as four
hours of procedures bring (about 1,000 events an hour).
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "board"))

from playwright.sync_api import sync_playwright
from seated import Chair

WORDS = ("lunch", "window", "holiday", "weather", "garden", "bicycle", "kitchen", "river")
SEEN = """() => {
  window.seen = [];
  new MutationObserver(() => requestAnimationFrame(() => requestAnimationFrame(() =>
    window.seen.push([document.querySelector('#heard .words').textContent,
      performance.timeOrigin + performance.now()]))))
    .observe(document.querySelector('#heard'), {childList: true, subtree: true});
}"""
DECODE = "from sidecue.cli.main import run; run(['demo', '--out', '{out}'])"


@contextmanager
def decoding(many: int, folder: str):
    """Decode the demo's recording in `many` processes."""
    busy = [
        subprocess.Popen(
            [sys.executable, "-c", DECODE.format(out=f"{folder}/{number}")],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        for number in range(many)
    ]
    try:
        time.sleep(4 if busy else 0)
        yield
    finally:
        for each in busy:
            each.terminate()
            each.wait()


def delays(page, chair: Chair, events: int) -> list[float]:
    """Return the milliseconds from event to pixels, one for each of `events`."""
    page.evaluate(SEEN)
    found = []
    for number in range(events):
        words = f"{WORDS[number % len(WORDS)]} {WORDS[number // len(WORDS) % len(WORDS)]}"
        put = time.time() * 1000
        chair.type(words)
        page.wait_for_function("(words) => window.seen.some(([each]) => each.includes(words))",
                               arg=words)  # fmt: skip
        at = page.evaluate("window.seen.at(-1)[1]")
        page.evaluate("window.seen.length = 0")
        found.append(at - put)
        page.wait_for_timeout(60)
    return found


def heap(page) -> float:
    """Return the page's heap in kB after a collection."""
    session = page.context.new_cdp_session(page)
    session.send("HeapProfiler.collectGarbage")
    used = session.send("Runtime.getHeapUsage")["usedSize"]
    return float(used) / 1000


def main() -> None:
    """Print the figures."""
    options = argparse.ArgumentParser()
    options.add_argument("--decoding", type=int, default=2)
    options.add_argument("--events", type=int, default=100)
    options.add_argument("--pages", type=int, default=4000)
    options.add_argument("--out", default="/tmp/sidecue-board-figures")
    asked = options.parse_args()
    chair = Chair()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        page = browser.new_page(viewport={"width": 1920, "height": 1080})
        page.goto(chair.url)
        page.wait_for_selector("body[data-link=live]")
        page.wait_for_timeout(500)
        with decoding(asked.decoding, asked.out):
            taken = sorted(delays(page, chair, asked.events))
        print(
            f"event to pixels, {asked.decoding} decoding, {len(taken)} events:"
            f" median {statistics.median(taken):.0f} ms,"
            f" p95 {taken[int(0.95 * (len(taken) - 1))]:.0f} ms, most {taken[-1]:.0f} ms"
        )
        before = heap(page)
        for number in range(asked.pages):
            shown = dict(chair.shown)
            words = {"words": f"word {number}", "verdict": "not a cue of this step", "taken": False}
            chair.board.feed.publish({**shown, "heard": words})
            time.sleep(0.004)
        page.wait_for_timeout(500)
        print(f"heap before {before:.0f} kB, after {asked.pages} more pages {heap(page):.0f} kB")
        browser.close()
    chair.stop()


if __name__ == "__main__":
    main()
