"""Pronunciations that people add: checked, kept whole, and told line by line when damaged."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.hearing.own_words import (
    PronunciationError,
    keep,
    own_pairs,
    own_words,
    own_words_path,
    phones_of,
    plain_word,
    respelled,
    with_way,
)
from sidecue.procedure.phones import known_phones, syllables
from sidecue.procedure.source import LoadError

KNOWN = {"den": (("D", "EH", "N"),), "teen": (("T", "IY", "N"), ("T", "IH", "N"))}


def spell(word):
    return KNOWN.get(word, ())


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return tmp_path


def test_nothing_was_added_at_first():
    assert own_words() == {}
    assert not own_words_path().exists()


def test_what_is_kept_is_read_again_and_stands_beside_what_was():
    words = with_way({}, "dentine", ("D", "EH", "N", "T", "IY", "N"))
    keep(with_way(words, "dentine", ("D", "EH", "N", "T", "AY", "N")))
    assert own_pairs() == (("dentine", "D EH N T IY N"), ("dentine", "D EH N T AY N"))
    assert [path.name for path in own_words_path().parent.iterdir()] == ["pronunciations.yaml"]


def test_a_respelling_takes_the_usual_way_of_each_word():
    assert respelled("Den teen", spell) == ("D", "EH", "N", "T", "IY", "N")
    with pytest.raises(PronunciationError, match="'tyne' is not known either"):
        respelled("den tyne", spell)


def test_phones_may_have_stress_and_small_letters():
    assert phones_of("d eh1 n t iy0 n") == ("D", "EH", "N", "T", "IY", "N")


@pytest.mark.parametrize(
    ("text", "why"), [("D EH NN", "'NN' is no phone"), ("D T", "no vowel"), ("", "no vowel")]
)
def test_phones_that_cannot_be_said_are_told(text, why):
    with pytest.raises(PronunciationError, match=why):
        phones_of(text)


@pytest.mark.parametrize("text", ["two words", "", "4711", "a-b", "../x"])
def test_only_one_plain_word_has_a_pronunciation(text):
    with pytest.raises(PronunciationError, match="one plain word"):
        plain_word(text)


@given(st.lists(st.sampled_from(sorted(known_phones())), max_size=12))
def test_any_phones_with_a_vowel_may_be_given(phones):
    if syllables(phones):
        assert phones_of(" ".join(phones)) == tuple(phones)
    else:
        with pytest.raises(PronunciationError):
            phones_of(" ".join(phones))


@pytest.mark.parametrize(
    ("text", "line", "why"),
    [
        ("dentine: [D EH N T IY N]\ncaries: [K QQ R]\n", 2, "'QQ' is no phone"),
        ("two words: [T UW]\n", 1, "not one plain word"),
        ("dentine: 5\n", 1, "no vowel"),
        ("- dentine\n", 1, "no list of words"),
        ("dentine: [D EH\n", 1, "broken YAML"),
    ],
)
def test_a_damaged_file_is_told_by_line(text, line, why):
    own_words_path().parent.mkdir(parents=True)
    own_words_path().write_text(text, "utf-8")
    with pytest.raises(LoadError, match=why) as told:
        own_words()
    assert f"pronunciations.yaml:{line}: " in str(told.value)
    assert "\n" not in str(told.value)
