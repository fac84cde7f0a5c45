"""The demo: a whole spoken class II composite through the shipped ears, machine and mouth.

`audio_fixtures/demo/transcript.yaml` says what each utterance meant (a cue, or None for chatter).
The voices are synthetic and were chosen with this recogniser, so this proves the pipeline, not
how well people are heard; that is the listening bench's matter.
"""

from __future__ import annotations

from pathlib import Path

import pytest
import soundfile
import yaml

from sidecue.assets import data_folder
from sidecue.cli.main import run
from sidecue.conductor.ending import story_of
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.record.summary import summarise

pytestmark = pytest.mark.xdist_group("demo")  # one run of it serves every test

UNSAFE = {"seat-clamp.done", "skip", "cure-adhesive.begin", "rinse-etch.done"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("demo")
    assert run(["demo", "--out", str(out)]) == 0
    return out


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
    assert "46 MO" in (demo / "record.md").read_text("utf-8")
    assert "The filling is hard now" in (demo / "advice.md").read_text("utf-8")
