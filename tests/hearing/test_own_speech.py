"""Which phones our own words may leave in our own microphone."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.own_speech import runs
from sidecue.hearing.phones import PHONES

LEXICON = Lexicon()
WORDS = st.lists(st.sampled_from(("rinse", "the", "cavity", "now", "stop", "etch")), max_size=6)


def phones_of(*words: str) -> tuple[str, ...]:
    return tuple(phone for word in words for phone in LEXICON.spell(word)[0])


def named(phones: tuple[int, ...]) -> tuple[str, ...]:
    return tuple(PHONES[each] for each in phones)


@given(WORDS, st.integers(3, 15))
def test_every_run_is_a_piece_of_the_sentence_about_as_long_as_the_cue(
    words: list[str], long: int
) -> None:
    whole = phones_of(*words)
    pieces = {whole[a:b] for a in range(len(whole)) for b in range(a + 1, len(whole) + 1)}
    for _, phones in runs((" ".join(words),), LEXICON, long):
        assert named(phones) in pieces
        assert 0.5 * long <= len(phones) <= 1.7 * long


def test_a_run_may_begin_and_end_within_a_word() -> None:
    found = {named(phones) for _, phones in runs(("Count every piece.",), LEXICON, 6)}
    whole = phones_of("count", "every", "piece")
    assert whole[2:8] in found
    assert whole[:6] in found


def test_figures_are_said_as_words() -> None:
    found = {text for text, _ in runs(("20 seconds left.",), LEXICON, 8)}
    assert any(text.startswith("twenty") for text in found)


def test_no_run_goes_over_a_word_that_nobody_can_spell() -> None:
    found = list(runs(("Rinse the zxqv cavity now.",), LEXICON, 6))
    assert found
    assert all("zxqv" not in text for text, _ in found)
    whole = (phones_of("rinse", "the"), phones_of("cavity", "now"))
    for _, phones in found:
        assert any(
            named(phones) == part[at : at + len(phones)]
            for part in whole
            for at in range(len(part))
        )


def test_of_nothing_said_there_is_no_run() -> None:
    assert list(runs((), LEXICON, 6)) == []
    assert list(runs(("", "..."), LEXICON, 6)) == []
