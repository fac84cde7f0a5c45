"""What silences the tool is known while it is silent, and does nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from english import ENGLISH, cue

from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.judgement import judged
from sidecue.hearing.silence import in_silence
from sidecue.procedure.plan import Tier

QUIET = replace(cue("quiet please", Tier.STOP), id="quiet")
WORDS = replace(ENGLISH, cues=(*ENGLISH.cues, QUIET))
SILENT = in_silence(WORDS)


def test_all_others_count_as_before() -> None:
    assert SILENT.cues == ENGLISH.cues
    assert SILENT.idle == (QUIET,)
    assert in_silence(ENGLISH) == ENGLISH


@pytest.mark.parametrize("text", ["quiet please", "okay tray quiet please"])
def test_it_is_known_so_as_not_to_be_taken_for_another(text: str) -> None:
    counts, known = grammar_of(WORDS).find(text), grammar_of(SILENT).find(text)
    assert counts is not None
    assert known is not None
    assert (counts.cue, known.cue) == (QUIET, None)


def test_the_reason_says_that_nothing_was_being_said() -> None:
    path = grammar_of(SILENT).find("quiet please")
    assert path is not None
    heard = judged(path, 0.99, lambda _, __: True, SILENT, (0.0, 1.0))
    assert heard.cue is None
    assert heard.why == "the tool says nothing now; nothing is done"
