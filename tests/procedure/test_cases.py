"""A case is read with clinical rules; what only the operator can tell is asked, never chosen."""

from __future__ import annotations

import pytest
from small_library import case

from sidecue.procedure.case import CaseFault, case_of
from sidecue.procedure.case_words import case_line, words_of
from sidecue.procedure.loading import case_from
from sidecue.procedure.schema import CaseFile
from sidecue.procedure.words import PLACEHOLDERS, REPEAT_PLACEHOLDERS

#: What goes in under a dam, and without one.
UNDER_DAM = {"clamp-seated", "matrix-placed", "injected"}
ON_ROLLS = {"rolls-in", "throat-guarded", "matrix-placed", "injected"}


def test_the_practice_fixes_which_tooth_a_number_is() -> None:
    # ISO 14 and Universal 14 are different teeth: ISO 3950 (from memory), tooth tables.
    entry = CaseFile(tooth="14", surfaces="MO", material="composite", isolation="dam")
    iso, universal = case_of(entry, "iso"), case_of(entry, "universal")
    assert iso.tooth is not None
    assert iso.tooth.name == "upper right first premolar"
    assert universal.tooth is not None
    assert universal.tooth.name == "upper left first molar"


def test_without_a_fixed_notation_an_ambiguous_number_is_asked_about() -> None:
    entry = CaseFile(tooth="14", surfaces="MO", material="composite", isolation="dam")
    asked = case_of(entry, None)
    assert asked.tooth is None
    (question,) = asked.questions
    assert question.id == "tooth"
    assert "upper right first premolar" in question.ask
    assert "upper left first molar" in question.ask


def test_the_case_may_say_its_own_notation() -> None:
    read = case(tooth="14", notation="universal").tooth
    assert read is not None
    assert read.iso == 26


def test_a_buccal_letter_alone_on_a_molar_is_asked_about() -> None:
    # Class V or the pit of class I: leonardo-dental.com, cavity classes.
    asked = case(surfaces="B")
    assert [question.id for question in asked.questions] == ["surfaces"]
    assert case(surfaces="B", cervical=True).questions == ()


@pytest.mark.parametrize(
    ("entries", "key", "why"),
    [
        ({"tooth": "49"}, "tooth", "ISO teeth are"),
        ({"tooth": "00"}, "tooth", "area of the mouth"),
        ({"tooth": "molar"}, "tooth", "not a tooth number"),
        ({"tooth": "11", "surfaces": "O"}, "surfaces", "incisal edge"),
        ({"tooth": "36", "surfaces": "P"}, "surfaces", "no palatal surface"),
        ({"surfaces": ""}, "surfaces", "no surface given"),
        ({"surfaces": "MM"}, "surfaces", "given twice"),
        ({"matrix": "clear-strip"}, "matrix", "takes sectional or band"),
        ({"date": "31.3.2026"}, "date", "is not a day"),
        ({"anaesthetic": "coffee"}, "anaesthetic", "coffee"),
        ({"depth-mm": 0}, "depth-mm", "cannot be"),
        ({"age-years": -1}, "age-years", "cannot be"),
        ({"weight-kg": 1e6}, "weight-kg", "cannot be"),
        ({"depth-mm": float("nan")}, "depth-mm", "cannot be"),
    ],
)
def test_what_cannot_be_is_one_line_that_says_what_to_correct(
    entries: dict[str, object], key: str, why: str
) -> None:
    with pytest.raises(CaseFault) as caught:
        case(**{name.replace("-", "_"): value for name, value in entries.items()})
    assert caught.value.key == key
    assert why in str(caught.value)
    assert "\n" not in str(caught.value)
    assert caught.value.mend


def test_the_case_line_and_every_word_in_braces() -> None:
    assert case_line(case(surfaces="DOM")) == "46 MOD · composite · dam"
    words = words_of(case(surfaces="DOM"), UNDER_DAM)
    assert words["tooth_digits"] == "four six"
    assert words["tooth"] == "lower right first molar"
    assert words["surfaces"] == "mesial occlusal distal"
    assert words["anchor"] == "four seven"
    assert words["wedges"] == "two wedges"
    assert set(words) | REPEAT_PLACEHOLDERS == set(PLACEHOLDERS)


def test_no_word_in_braces_is_longer_than_the_prompts_count_on() -> None:
    for tooth in ("11", "18", "21", "24", "36", "43", "48", "51", "55", "65", "75", "84"):
        for surfaces in ("M", "MO", "MOD", "MODBL", "MIDFL", "MI", "B", "O"):
            for notation in ("iso", "universal"):
                entry = CaseFile(
                    tooth=tooth, surfaces=surfaces, material="resin-glass-ionomer",
                    isolation="dam", notation="iso", cervical=surfaces == "B" or None,
                )  # fmt: skip
                try:
                    read = case_of(entry, notation)
                except CaseFault:
                    continue
                for gained in (UNDER_DAM, ON_ROLLS | ({"cord-in"} if entry.cervical else set())):
                    for name, word in words_of(read, gained).items():
                        assert len(word.split()) <= PLACEHOLDERS[name], (name, word)


@pytest.mark.parametrize(
    ("entries", "why"),
    [
        ({"tooth": "46"}, "'isolation' is missing"),
        ({"tooth": "46", "surfaces": "MO", "material": "gold", "isolation": "dam"}, "'gold'"),
        ({"tooth": 46, "surface": "MO", "material": "composite", "isolation": "dam"}, "surface"),
        ({"tooth": 49, "surfaces": "MO", "material": "composite", "isolation": "dam"}, "49"),
    ],
)
def test_a_case_from_the_command_line_is_refused_in_one_line(
    entries: dict[str, object], why: str
) -> None:
    with pytest.raises(CaseFault) as caught:
        case_from(entries, "iso")
    assert why in str(caught.value)
    assert "\n" not in str(caught.value)
