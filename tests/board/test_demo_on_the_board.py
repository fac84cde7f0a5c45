"""The demo: a whole spoken class II composite through the shipped ears, machine and mouth, and on
the board in a real browser, which hears nothing but shows all of it.

`audio_fixtures/demo/transcript.yaml` says what each utterance meant (a cue, or None for chatter).
The voices are synthetic and were chosen with this recogniser, so this proves the pipeline, not
how well people are heard; that is the listening bench's matter.
"""

from __future__ import annotations

import socket
import subprocess
import sys
from pathlib import Path

import pytest
import soundfile
import yaml
from browser import CHROMIUM, PATIENCE, opened

from sidecue.assets import data_folder
from sidecue.cli.main import run
from sidecue.cli.setting import setting
from sidecue.conductor.ending import story_of
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.record.summary import summarise

pytestmark = pytest.mark.xdist_group("demo")  # one run of it serves every test

UNSAFE = {"seat-clamp.done", "skip", "cure-adhesive.begin", "rinse-etch.done"}


#: Keeps what the page shows: each prompt, and what was heard with its verdict.
KEEP = """() => {
  const kept = window.kept = {said: [], heard: [], modes: []};
  const last = (list, text) => { if (text && list.at(-1) !== text) list.push(text); };
  const look = () => {
    last(kept.said, document.querySelector('#say').textContent);
    last(kept.heard, document.querySelector('#heard').dataset.taken);
    last(kept.modes, document.body.dataset.mode);
  };
  new MutationObserver(look).observe(document.body,
    {subtree: true, childList: true, characterData: true, attributes: true,
     attributeFilter: ['data-mode', 'data-taken']});
  look();
}"""


class Watched:
    """The demo's folder, and what a browser saw of it; None without a browser."""

    def __init__(self, out: Path, seen) -> None:
        self.out, self.seen = out, seen


@pytest.fixture(scope="module")
def watched(tmp_path_factory: pytest.TempPathFactory, request) -> Watched:
    out = tmp_path_factory.mktemp("demo")
    if CHROMIUM is None:
        assert run(["demo", "--out", str(out)]) == 0
        return Watched(out, None)
    chromium = request.getfixturevalue("chromium")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    code = "import sys; from sidecue.cli.main import run; sys.exit(run(sys.argv[1:]))"
    told = ["demo", "--board", "--speed", "0", "--port", str(port), "--out", str(out)]
    demo = subprocess.Popen([sys.executable, "-c", code, *told], stdout=subprocess.DEVNULL)
    try:
        page = opened(chromium, f"http://127.0.0.1:{port}/watch", 1000, 600, wait=PATIENCE)
        page.wait_for_selector("body[data-kind=session]")
        page.evaluate(KEEP)
        while demo.poll() is None and page.query_selector("body[data-mode=finished]") is None:
            page.wait_for_timeout(500)
        page.wait_for_selector("body[data-mode=finished]", timeout=5_000)  # or it ended before
        page.wait_for_selector("body[data-link=over]")
        seen = page.evaluate("window.kept")
        page.context.close()
        assert demo.wait(120) == 0
    finally:
        demo.kill()
        demo.wait()
    return Watched(out, seen)


@pytest.fixture(scope="module")
def demo(watched: Watched) -> Path:
    return watched.out


def test_the_board_shows_a_whole_class_ii_composite_driven_by_voice(watched: Watched) -> None:
    if watched.seen is None:
        pytest.skip("no chromium on this machine (Debian: chromium)")
    steps = [step.say for step in setting("composite-46-mo", "example").plan.steps]
    # The newest page wins: on a busy machine the browser may skip one.
    shown = set(watched.seen["said"]) & set(steps)
    assert len(shown) > 0.6 * len(set(steps))
    assert watched.seen["said"][-1] == "The visit is complete."
    assert {"true", "false"} <= set(watched.seen["heard"]), "what is taken, and what is not"
    assert "asking" in watched.seen["modes"]


@pytest.fixture(scope="module")
def story(demo: Path):
    journal = SqliteJournal(demo / "journal.sqlite3")
    try:
        return story_of(journal, journal.sessions()[0].id)
    finally:
        journal.close()


def test_what_is_understood_is_what_was_meant(story) -> None:
    said = yaml.safe_load(
        (data_folder("audio_fixtures/demo") / "transcript.yaml").read_text("utf-8")
    )["utterances"]
    # Every cue that came through was meant, in its order; what was missed was said again.
    left = iter(line["meant"] for line in said)
    assert all(cue.cue in left for cue in story.cues)
    assert sum(line["meant"] is None for line in said) >= 5, "the session holds chatter"


def test_unsafe_requests_are_refused_and_all_steps_done(story) -> None:
    assert {cue.cue for cue in story.refusals} == UNSAFE
    figures = summarise(story)
    assert figures.steps_done == figures.steps
    assert figures.timers_not_kept == 0


def test_prompts_record_and_advice_are_left(demo: Path, story) -> None:
    prompts = soundfile.info(demo / "prompts.wav")
    assert prompts.duration == pytest.approx(story.ended, abs=10)
    (folder,) = demo.glob("visit-*")
    assert "46 MO" in (folder / "record.md").read_text("utf-8")
    assert "The filling is hard now" in (folder / "advice.md").read_text("utf-8")
