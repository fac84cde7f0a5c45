"""Typed and scripted phrases under the rules of spoken ones."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from english import ENGLISH
from hypothesis import given
from hypothesis import strategies as st
from recogniser_contract import RecogniserContract

from sidecue.hearing.port import Hearing, Vocabulary
from sidecue.hearing.text import ScriptEars, ScriptError, TypedEars, hear_text, parse_script


class TestTextKeepsTheContract(RecogniserContract):
    ADVANCE = "rinse done"
    STOP = "stop talking"
    FOREIGN = "we had a lovely time"

    def vocabulary(self, **changes: object) -> Vocabulary:
        return replace(ENGLISH, **changes)

    def say(self, phrase: str, vocabulary: Vocabulary) -> Hearing:
        return hear_text(phrase, 12.5, vocabulary)


@pytest.mark.parametrize(
    "phrase",
    ["okay tray rinse", "okay tray rinse done now", "rinse done okay tray", "okay rinse done", ""],
)
def test_only_whole_phrases_count(phrase: str) -> None:
    assert hear_text(phrase, 0.0, ENGLISH).cue is None


def test_writing_habits_do_not_matter() -> None:
    assert hear_text("  Okay tray, RINSE done! ", 0.0, ENGLISH).cue == "rinse-done"


@given(st.text(max_size=60))
def test_any_text_is_judged_and_never_corrected(text: str) -> None:
    hearing = hear_text(text, 0.0, ENGLISH)
    if hearing.cue is not None:
        assert hearing.phrase in {phrase for cue in ENGLISH.cues for phrase in cue.phrases}


def test_a_script_keeps_its_times() -> None:
    script = parse_script(
        "# a visit\n00:02.5 okay tray rinse done\nstop talking  # bare\n(wait 5)\nhold everything\n"
    )
    starts = [line.started for line in script.lines]
    assert starts[0] == 2.5
    assert starts[1] > script.lines[0].ended
    assert starts[2] >= script.lines[1].ended + 5
    heard = [
        hearing.cue
        for moment in ScriptEars(lambda _at: ENGLISH).listen(script)
        for hearing in moment.hearings
    ]
    assert heard == ["rinse-done", "stop-talking", "hold-everything"]


def test_the_clock_of_a_script_never_goes_backwards_and_never_leaps() -> None:
    script = parse_script("okay tray rinse done\n(wait 60)\nstop talking")
    moments = [moment.now for moment in ScriptEars(lambda _at: None).listen(script)]
    steps = [after - before for before, after in pairwise(moments)]
    assert min(steps) >= 0
    assert max(steps) <= 1.5
    assert moments[-1] == script.lasts


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("00:10.0 stop talking\n00:05.0 stop talking", r"visit.txt:2: .*later time"),
        ("1:2 stop talking", r"visit.txt:1: .*MM:SS"),
        ("99:99 stop talking", r"visit.txt:1: .*seconds below 60"),
        ("(wait x)", r"visit.txt:1: .*write a wait as \(wait 5\)"),
        ("(wait)", r"visit.txt:1: .*write a wait as \(wait 5\)"),
        ("stop talking\n\n12.5 stop", r"visit.txt:3: .*MM:SS"),
        ("!!!", r"visit.txt:1: .*no words"),
    ],
)
def test_a_script_fault_names_its_line(text: str, says: str) -> None:
    with pytest.raises(ScriptError, match=says):
        parse_script(text, "visit.txt")


def test_a_typed_phrase_takes_the_sessions_time() -> None:
    typed = TypedEars(lambda _at: ENGLISH, lambda: 42.0)
    hearing = typed.take("stop talking")
    assert hearing is not None
    assert (hearing.started, hearing.ended, hearing.cue) == (42.0, 42.0, "stop-talking")
