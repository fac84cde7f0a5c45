"""How soon the board shows what happened, whether its memory stays flat, from how far it is read.

    python -m benchmarks.board.board_figures [--decoding 2] [--events 100] [--hours 4]

Event to pixels: from a phrase or a press put in the session's queue to the second animation frame
after the page changed, in the Chromium of this machine, while `--decoding` processes decode the
demo's recording: chatter that is refused, and steps that are done, in turn. A press also waits for
the next block of sound, which is not counted here: 50 ms at most, 30 without a microphone.
Memory: heap (collected), elements and listeners of the page and resident memory of the server's
own process, after each of so many hours of a visit's pages, 1,000 events an hour, all shown.
Reach: from how far the smallest letters that matter fill 22 minutes of arc, over every step of a
class II composite, by the screen's size. Writes a JSON of all of it to `--into`.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import time
from contextlib import contextmanager
from multiprocessing import get_context
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parents[2] / "tests" / "board"))

from playwright.sync_api import sync_playwright
from seated import PLAN, Chair

from sidecue.board.page import LastHeard, page
from sidecue.session.events import CueGiven, Started, TimePassed
from sidecue.session.keys import keys_for
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode
from sidecue.session.view import view

WORDS = ("lunch", "window", "holiday", "weather", "garden", "bicycle", "kitchen", "river")
AN_HOUR = 1000  # events
SCREENS = (15.6, 21.5, 24, 27, 32)  # inches
SEEN = """() => {
  window.seen = new Map();
  window.waiting = new Map();
  new MutationObserver(() => {
    const page = document.body.dataset.page;
    requestAnimationFrame(() => requestAnimationFrame(() => {
      const at = performance.timeOrigin + performance.now();
      if (waiting.has(page)) waiting.get(page)(at); else seen.set(page, at);
    }));
  }).observe(document.body, {attributeFilter: ['data-page']});
}"""
# The moment at which this page was on the screen; no frame is asked for in order to look.
WHEN = """(page) => seen.get(page) ?? new Promise((tell) => waiting.set(page, tell))"""
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


def delays(shown, chair: Chair, events: int) -> dict[str, list[float]]:
    """Return the milliseconds from event to pixels, half of `events` of each kind, sorted."""
    shown.evaluate(SEEN)
    found: dict[str, list[float]] = {"refused": [], "step": []}
    steps = iter(PLAN.steps[1:])
    for number in range(events):
        kind, before = ("refused", "step")[number % 2], chair.number
        words = " ".join(WORDS[number // len(WORDS) ** each % len(WORDS)] for each in range(3))
        put = time.time() * 1000
        if kind == "refused":
            chair.type(words)
            while chair.number == before:
                time.sleep(0.001)
        else:
            chair.go_to(next(steps).id)  # the last press of it counts
            put = chair.pressed * 1000
        found[kind].append(shown.evaluate(WHEN, str(chair.number)) - put)
        shown.wait_for_timeout(60)
    return {kind: sorted(each) for kind, each in found.items()}


def visit_pages() -> list[dict[str, Any]]:
    """Return the page after each event of a whole visit, as the session brings them."""
    machine = SessionMachine(PLAN)
    state, now, pages = machine.step(machine.first(), Started(0.0))[0], 0.0, []
    while state.mode is not Mode.FINISHED:
        now += 20.0 if state.question is None else 1.0  # a question waits for five seconds
        while (due := machine.next_deadline(state)) is not None and due <= now:
            state, _ = machine.step(state, TimePassed(max(due, state.now)))
        step = PLAN.steps[PLAN.step_index[state.step]]
        own = [cue for cue in (step.begin, step.done) if cue is not None]
        cue = own[0] if not state.under_way else step.done
        if state.question is not None:
            cue = next(each for each in PLAN.cues if each.id == "confirm")
        state, _ = machine.step(state, CueGiven(now, cue.id))
        keys = keys_for(machine.cues_now(state), [each.id for each in own])
        heard = LastHeard(cue.phrases[0], "step done")
        pages.append(page(view(machine, state, now), keys, now, heard, PLAN.address))
    return pages


def memory(shown, server: int) -> dict[str, int]:
    """Return heap (kB, collected), elements and listeners of the page, and the resident memory
    (kB) of the process `server`."""
    session = shown.context.new_cdp_session(shown)
    session.send("Performance.enable")
    session.send("HeapProfiler.collectGarbage")
    told = {
        each["name"]: each["value"] for each in session.send("Performance.getMetrics")["metrics"]
    }
    session.detach()
    status = Path(f"/proc/{server}/status").read_text()
    resident = next(line for line in status.splitlines() if line.startswith("VmRSS"))
    return {
        "heap_kb": round(told["JSHeapUsedSize"] / 1000),
        "nodes": round(told["Nodes"]),
        "listeners": round(told["JSEventListeners"]),
        "server_kb": int(resident.split()[1]),
    }


def serve(pipe) -> None:
    """Serve a board and publish a visit's pages, one for each number asked for. In a process of
    its own: what drives the browser keeps things for each call, which is not the board's."""
    chair, pages = Chair(), visit_pages()
    pipe.send(chair.url)
    while (number := pipe.recv()) is not None:
        heard = {"words": f"word {number}", "verdict": "not a cue", "taken": False}
        chair.board.feed.publish({**pages[number % len(pages)], "heard": heard})
        pipe.send(chair.number)
    chair.stop()


def hours_of(browser, hours: int) -> list[dict[str, int]]:
    """Return the memory at the start and after each hour of pages, each of them shown."""
    spawn = get_context("spawn")
    pipe, theirs = spawn.Pipe()
    server = spawn.Process(target=serve, args=(theirs,), daemon=True)
    server.start()
    shown = browser.new_page(viewport={"width": 1920, "height": 1080})
    shown.set_default_timeout(120_000)
    shown.goto(pipe.recv())
    shown.wait_for_selector("body[data-link=live]")
    found = [memory(shown, server.pid)]
    for number in range(1, hours * AN_HOUR + 1):
        pipe.send(number)
        page = pipe.recv()
        if number % 2 == 0:  # the newest wins: wait, so that nothing is skipped for long
            shown.wait_for_function(
                "(page) => Number(document.body.dataset.page) >= page", arg=page, polling=5
            )
        if number % AN_HOUR == 0:
            found.append(memory(shown, server.pid))
    pipe.send(None)
    server.join(10)
    return found


def reaches(browser, chair: Chair) -> dict[str, dict[str, float]]:
    """Return, by screen, from how far each step is read: the least and the median, and the share
    of steps that reach three metres."""
    pages, told = visit_pages(), {}
    for inches in SCREENS:
        size = {"width": 1920, "height": 1080}
        context = browser.new_context(viewport=size, screen=size, reduced_motion="reduce")
        shown = context.new_page()
        shown.goto(f"{chair.url}watch?screen={inches}&distance=3")
        shown.wait_for_selector("body[data-link=live]")
        far = []
        for number, each in enumerate(pages):
            words = f"{inches} {number}"
            heard = {"words": words, "verdict": "step done", "taken": True}
            chair.board.feed.publish({**each, "heard": heard})
            shown.wait_for_function(
                "(page) => Number(document.body.dataset.page) >= page", arg=chair.number
            )
            far.append(float(shown.text_content("#reach").split(" up to ")[1].split(" m")[0]))
        told[f"{inches:g} inches"] = {
            "least_m": min(far),
            "median_m": statistics.median(far),
            "share_at_3_m": round(sum(each >= 3 for each in far) / len(far), 2),
        }
        context.close()
    return told


def main() -> None:
    """Print the figures."""
    options = argparse.ArgumentParser()
    options.add_argument("--decoding", type=int, default=2)
    options.add_argument("--events", type=int, default=100)
    options.add_argument("--hours", type=int, default=4)
    options.add_argument("--out", default="/tmp/sidecue-board-figures")
    options.add_argument("--into", type=Path)
    options.add_argument("--only", choices=("pixels", "memory", "reach"))
    asked = options.parse_args()
    figures: dict[str, Any] = {"machine": "two x86-64 cores"}
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
        )
        chair = Chair()
        shown = browser.new_page(viewport={"width": 1920, "height": 1080})
        shown.set_default_timeout(120_000)
        shown.goto(chair.url)
        shown.wait_for_selector("body[data-link=live]")
        shown.wait_for_timeout(500)
        if asked.only in (None, "pixels"):
            load = round(os.getloadavg()[0], 1)  # what else the machine does
            with decoding(asked.decoding, asked.out):
                taken = delays(shown, chair, asked.events)
            figures["event_to_pixels_ms"] = {"decoding": asked.decoding, "load_before": load} | {
                kind: {
                    "events": len(each),
                    "median": round(statistics.median(each)),
                    "p95": round(each[int(0.95 * (len(each) - 1))]),
                    "most": round(each[-1]),
                }
                for kind, each in taken.items()
            }
        if asked.only in (None, "memory"):
            figures["memory_by_hour"] = hours_of(browser, asked.hours)
        if asked.only in (None, "reach"):
            figures["reach"] = reaches(browser, chair)
        browser.close()
        chair.stop()
    print(json.dumps(figures, indent=1))
    if asked.into is not None:
        known = json.loads(asked.into.read_text()) if asked.into.exists() else {}
        asked.into.write_text(json.dumps({**known, **figures}, indent=1) + "\n")


if __name__ == "__main__":
    main()
