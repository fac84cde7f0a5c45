"""Phones are said, not read out."""

from contextlib import closing
from itertools import pairwise

import numpy as np
import pytest

from sidecue.procedure.phones import known_phones
from sidecue.speaking.phones import in_codes
from sidecue.speaking.voice import PyttsVoice


def test_the_first_vowel_is_stressed_and_neighbours_stay_apart():
    # "T SH" is the end of "that ship", not of "catch".
    assert in_codes(("AH", "T", "SH", "AA")) == "[['V|t|S|A:]]"
    assert in_codes(("T", "AA", "AH")) == "[[t|'A:|@]]"


def test_what_is_no_phone_is_refused():
    with pytest.raises(KeyError):
        in_codes(("QQ",))


def test_every_phone_has_its_own_code():
    codes = [in_codes((phone,)) for phone in sorted(known_phones())]
    assert len(set(codes)) == len(codes) == 39


def test_phones_are_said_as_the_word_is_and_every_one_is_heard():
    with closing(PyttsVoice()) as voice:
        written, said = voice.render("team"), voice.render_phones(("T", "IY", "M"))
        assert abs(written.lasts - said.lasts) < 0.1  # the brackets are not read out
        frames = ("P", "ZH", "HH", "NG", "TH", "Y")
        sounds = [voice.render_phones(("AA", phone, "AA")).samples for phone in frames]
    for one, other in pairwise(sounds):
        assert len(one) != len(other) or not np.array_equal(one, other)
