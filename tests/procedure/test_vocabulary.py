"""The words of a plan: all that a recogniser must know, with the file each comes from."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_library import case, library

from sidecue.procedure.planning import plan
from sidecue.procedure.vocabulary import normalise_phrase, phrases, unknown_words, words


def test_a_word_the_lexicon_lacks_is_named_with_its_phrase_and_file(tmp_path: Path) -> None:
    loaded = library(tmp_path)
    found = plan(loaded, "filling", case(), loaded.practices["office"])
    lexicon = words(found) - {"etch", "tray"}
    missing = unknown_words(found, lexicon.__contains__)
    assert [str(word) for word in missing] == [
        "address: 'okay tray': the lexicon lacks 'tray'",
        "bonding: 'etch is on': the lexicon lacks 'etch'",
    ]
    assert unknown_words(found, words(found).__contains__) == ()


def test_a_word_with_a_pronunciation_is_known(tmp_path: Path) -> None:
    loaded = library(tmp_path)
    found = plan(loaded, "filling", case(), loaded.practices["office"])
    assert "dentine" not in {word.word for word in unknown_words(found, lambda _: False)}


def test_every_kind_of_phrase_is_there(tmp_path: Path) -> None:
    loaded = library(tmp_path)
    found = plan(loaded, "filling", case(), loaded.practices["office"])
    assert {where for where, _ in phrases(found)} == {
        "address", "filling", "bonding", "happenings", "emergencies", "cues", "skip-reasons",
        "decoys",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("said", "compared"),
    [("  Light   ON. ", "light on"), ("clamp's tied!", "clamp's tied"), ("", "")],
)
def test_phrases_are_compared_without_case_spaces_and_stops(said: str, compared: str) -> None:
    assert normalise_phrase(said) == compared


@given(st.text())
def test_normalising_twice_changes_nothing(text: str) -> None:
    once = normalise_phrase(text)
    assert normalise_phrase(once) == once
