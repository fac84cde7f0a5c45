"""How far apart phrases sound. Phones as in the CMU dictionary; pairs by ear, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.procedure.phones import distance, distances, known_phones, replacing, syllables

PHONES = st.lists(st.sampled_from(sorted(known_phones())), max_size=12).map(tuple)


def phones(text: str) -> tuple[str, ...]:
    return tuple(text.split())


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("S IH K S T IY N", "S IH K S T IY"),  # sixteen, sixty: the classic slip of dictation
        ("S T AA R T", "S T AA P"),  # start, stop
        ("N EH V ER M AY N D", "N EH V ER M AY N"),  # never mind, never mine
        ("F L AO S T AY D", "B AO S T AY D"),  # floss tied, boss tied
        ("R IH N S T", "R IH N S"),  # rinsed, rinse
    ],
)
def test_what_is_taken_for_each_other_is_near(one: str, other: str) -> None:
    assert distance(phones(one), phones(other)) < 0.45


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("F L AO S T AY D", "K AH N F ER M DH AE T"),  # floss tied, confirm that
        ("S T AA P T AO K IH NG", "K W AY AH T P L IY Z"),  # stop talking, quiet please
        (
            "HH AW L AO NG L EH F T",
            "HH OW L D EH V R IY TH IH NG",
        ),  # how long left, hold everything
    ],
)
def test_what_nobody_confuses_is_far(one: str, other: str) -> None:
    assert distance(phones(one), phones(other)) >= 0.45


def test_voicing_alone_is_nearer_than_place_and_a_vowel_is_no_consonant() -> None:
    """Miller & Nicely 1955 (from memory): voicing survives noise, place of articulation does not;
    the features here know no noise, so only what is plainly unlike is held to."""
    assert replacing("P", "B") < replacing("S", "SH") < replacing("IY", "AA") < replacing("T", "R")
    assert replacing("T", "AA") == 1


def test_syllables_are_vowels() -> None:
    assert syllables(phones("F L AO S T AY D")) == 2


@given(PHONES, PHONES)
def test_a_distance_is_one(one: tuple[str, ...], other: tuple[str, ...]) -> None:
    apart = distance(one, other)
    assert 0 <= apart <= 1
    assert (apart == 0) == (one == other)
    assert apart == pytest.approx(distance(other, one))


@given(st.lists(st.tuples(PHONES, PHONES), max_size=6))
def test_many_at_once_are_as_each_alone(
    pairs: list[tuple[tuple[str, ...], tuple[str, ...]]],
) -> None:
    assert distances(pairs) == pytest.approx([distance(*pair) for pair in pairs])


@given(PHONES, PHONES)
def test_it_is_the_plain_edit_distance(one: tuple[str, ...], other: tuple[str, ...]) -> None:
    """Against the textbook table (Wagner & Fischer 1974), cell by cell."""
    above = [float(column) for column in range(len(other) + 1)]
    for row, phone in enumerate(one, start=1):
        here = [float(row)]
        for column, against in enumerate(other, start=1):
            replaced = above[column - 1] + replacing(phone, against)
            here.append(min(replaced, above[column] + 1, here[-1] + 1))
        above = here
    assert distance(one, other) == pytest.approx(above[-1] / max(len(one), len(other), 1))
