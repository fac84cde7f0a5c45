"""Reading a tooth aloud or from paper, and asking where it could be two teeth."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.teeth import ALL_TEETH, Notation, Tooth
from sidecue.clinical.tooth_reading import AmbiguousToothError, parse_tooth


@pytest.mark.parametrize(
    ("text", "notation", "iso"),
    [
        # ISO 3950:2016 (from memory).
        ("46", "iso", 46), (" 46 ", "iso", 46), ("four six", "iso", 46), ("four-six", "iso", 46),
        ("Forty-six", "iso", 46), ("forty six", "iso", 46), ("4 6", "iso", 46), ("4-6", "iso", 46),
        ("tooth 46", "iso", 46), ("#46", "iso", 46), ("one six", "iso", 16),
        ("sixteen", "iso", 16), ("one one", "iso", 11), ("eight five", "iso", 85),
        ("14", "iso", 14),
        # forensicspot.com, tooth numbering systems.
        ("#30", "universal", 46), ("30", "universal", 46), ("three zero", "universal", 46),
        ("thirty", "universal", 46), ("number thirty", "universal", 46), ("14", "universal", 26),
        ("one", "universal", 18), ("3", "universal", 16), ("thirty-two", "universal", 48),
        # liquisearch.com, letters of primary teeth.
        ("A", "universal", 55), ("letter t", "universal", 85), ("e", "universal", 51),
        ("F", None, 61),
        # A notation that only one system can mean needs no setting.
        ("46", None, 46), ("30", None, 46), ("19", None, 36), ("55", None, 55),
        # Symbols and names are the same in any practice.
        ("6┐", None, 46), ("6┐", "universal", 46), ("└1", "iso", 21), ("A┘", None, 51),
        ("e┐", None, 85), ("lower right first molar", None, 46),
        ("patient's Upper Left canine", "universal", 23),
    ],
)  # fmt: skip
def test_a_tooth_is_read(text: str, notation: str | None, iso: int) -> None:
    assert parse_tooth(text, notation) == Tooth(iso)


def test_oracle_4_fourteen_without_a_notation_is_asked_about() -> None:
    # Source: derived from the two numberings; ISO 14 = Universal 5, Universal 14 = ISO 26.
    with pytest.raises(AmbiguousToothError) as caught:
        parse_tooth("14")
    readings = {reading.notation: reading.tooth for reading in caught.value.readings}
    assert readings == {Notation.ISO: Tooth(14), Notation.UNIVERSAL: Tooth(26)}
    assert readings[Notation.ISO].universal == "5"
    assert "upper right first premolar" in caught.value.why
    assert "upper left first molar" in caught.value.why


def test_exactly_eighteen_two_digit_numbers_are_ambiguous() -> None:
    # Source: derived from the two numberings.
    doubtful = []
    for number in range(10, 100):
        try:
            parse_tooth(str(number))
        except AmbiguousToothError:
            doubtful.append(number)
        except ClinicalError:
            pass
    assert doubtful == [*range(11, 19), *range(21, 29), 31, 32]


@pytest.mark.parametrize("text", ["A", "e", "6", "letter c"])
def test_a_mark_without_its_bracket_is_asked_about(text: str) -> None:
    # Source: liquisearch.com: A is the primary central incisor in quadrant-symbol notation.
    with pytest.raises(AmbiguousToothError) as caught:
        parse_tooth(text)
    assert len(caught.value.readings) == 5


@pytest.mark.parametrize(
    ("text", "notation"),
    [
        pytest.param("19", "iso", id="oracle-5-19"),
        pytest.param("56", "iso", id="oracle-5-56"),
        pytest.param("86", "iso", id="oracle-5-86"),
        ("10", "iso"), ("00", "iso"), ("08", "iso"), ("30", "iso"), ("6", "iso"), ("A", "iso"),
        ("33", "universal"), ("0", "universal"), ("08", "universal"), ("46", "universal"),
        ("U", "universal"), ("00", None), ("99", None), ("", None), ("tooth", "iso"),
        ("four", "iso"), ("for six", "iso"), ("four six five", "iso"), ("forty zero", "iso"),
        ("six forty", "iso"), ("twenty zero", "universal"),
        ("-46", "iso"), ("4.6", "iso"), ("four--six", "iso"),
        ("46 46", "iso"), ("ten six", "iso"), ("upper molar", None),
    ],
)  # fmt: skip
def test_not_a_tooth(text: str, notation: str | None) -> None:
    with pytest.raises(ClinicalError) as caught:
        parse_tooth(text, notation)
    assert not isinstance(caught.value, AmbiguousToothError)
    assert caught.value.what
    assert caught.value.why
    assert caught.value.mend


def test_an_area_of_the_mouth_is_named_as_such() -> None:
    with pytest.raises(ClinicalError, match="area of the mouth"):
        parse_tooth("10", "iso")


def test_an_unknown_notation_is_refused() -> None:
    with pytest.raises(ClinicalError, match="not a tooth notation"):
        parse_tooth("46", "fdi")


@given(st.sampled_from(ALL_TEETH), st.sampled_from(Notation))
def test_oracle_3_round_trip_written_and_spoken(tooth: Tooth, notation: Notation) -> None:
    assert parse_tooth(tooth.written_in(notation), notation) == tooth
    assert parse_tooth(tooth.name, notation) == tooth
    if notation is not Notation.QUADRANT_SYMBOL:
        assert parse_tooth(tooth.spoken_in(notation), notation) == tooth


@given(st.text(max_size=12), st.sampled_from([None, *Notation]))
def test_any_text_is_read_or_refused_in_one_line(text: str, notation: Notation | None) -> None:
    outcome: Tooth | str
    try:
        outcome = parse_tooth(text, notation)
    except ClinicalError as error:
        outcome = str(error)
    assert outcome in ALL_TEETH or (isinstance(outcome, str) and "\n" not in outcome)
