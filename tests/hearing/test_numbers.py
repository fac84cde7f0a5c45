"""Spoken numbers: a whole number or nothing, never a silent wrong value."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.hearing.numbers import DIGITS, TEENS, TENS, in_words, parse, parse_within

NUMBER_WORDS = [*DIGITS, *TEENS, *TENS, "hundred", "and", "a", "point"]


@given(st.integers(0, 999))
def test_every_number_in_words_is_itself(value: int) -> None:
    number = parse(in_words(value))
    assert number is not None
    assert number.value == value


@given(st.lists(st.sampled_from([word for word in DIGITS if word != "oh"]), min_size=1, max_size=6))
def test_single_digits_are_read_back_as_they_were_said(words: list[str]) -> None:
    number = parse(" ".join(words))
    assert number is not None
    assert number.read_back == " ".join(words)


@given(st.lists(st.sampled_from(NUMBER_WORDS), max_size=6))
def test_what_is_read_back_is_the_same_number(words: list[str]) -> None:
    number = parse(" ".join(words))
    if number is not None:
        again = parse(number.read_back)
        assert again is not None
        assert again.value == number.value


@pytest.mark.parametrize(
    "phrase",
    [
        "",
        "three four five hundred",  # read as 32000 elsewhere
        "three twenty",
        "twenty fifteen",
        "fifty zero",
        "hundred",
        "two hundred and",
        "point five",
        "one point",
        "one point fifteen",
        "one point two point three",
        "for",  # a homophone is no digit
        "to",
        "won",
        "about fifteen",
        "fifteen minutes or so",
        "sixteen six teen",
        "one two three four five six seven",
    ],
)
def test_what_is_no_plain_number_is_refused(phrase: str) -> None:
    assert parse(phrase) is None


@given(st.text(max_size=40))
def test_any_text_gives_a_number_or_nothing(text: str) -> None:
    number = parse(text)
    assert number is None or number.value >= 0


@pytest.mark.parametrize(
    ("phrase", "text"),
    [
        ("fifteen", "15"),
        ("one five", "15"),
        ("fifty", "50"),
        ("twenty-five", "25"),
        ("a hundred and twenty", "120"),
        ("two hundred five", "205"),
        ("one point eight", "1.8"),
        ("oh seven", "07"),
        ("fifty no one five", "15"),
        ("no one five", "15"),
        ("fifty i mean fifteen", "15"),
        ("fifty correction one five", "15"),
    ],
)
def test_numbers_and_corrections(phrase: str, text: str) -> None:
    number = parse(phrase)
    assert number is not None
    assert number.text == text


def test_teens_and_tens_are_told_apart_when_read_back() -> None:
    fifteen, fifty = parse("fifteen"), parse("fifty")
    assert fifteen is not None
    assert fifty is not None
    assert (fifteen.read_back, fifty.read_back) == ("one five", "five zero")


def test_a_value_outside_its_slot_is_refused() -> None:
    assert parse_within("four eight", 11, 48) is not None
    assert parse_within("four nine", 11, 48) is None
