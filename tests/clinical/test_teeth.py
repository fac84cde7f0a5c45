"""Every tooth in every notation. The literal table is the check; nothing here computes it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.teeth import (
    ALL_TEETH,
    PERMANENT_TEETH,
    PRIMARY_TEETH,
    Kind,
    Notation,
    Tooth,
)

# Source: ISO 3950:2016 (from memory); Universal pairing from forensicspot.com and
# pocketdentistry.com, primary letters from liquisearch.com. Columns: ISO, Universal, symbol, name.
TABLE = """
18 1 8┘ upper right third molar
17 2 7┘ upper right second molar
16 3 6┘ upper right first molar
15 4 5┘ upper right second premolar
14 5 4┘ upper right first premolar
13 6 3┘ upper right canine
12 7 2┘ upper right lateral incisor
11 8 1┘ upper right central incisor
21 9 └1 upper left central incisor
22 10 └2 upper left lateral incisor
23 11 └3 upper left canine
24 12 └4 upper left first premolar
25 13 └5 upper left second premolar
26 14 └6 upper left first molar
27 15 └7 upper left second molar
28 16 └8 upper left third molar
38 17 ┌8 lower left third molar
37 18 ┌7 lower left second molar
36 19 ┌6 lower left first molar
35 20 ┌5 lower left second premolar
34 21 ┌4 lower left first premolar
33 22 ┌3 lower left canine
32 23 ┌2 lower left lateral incisor
31 24 ┌1 lower left central incisor
41 25 1┐ lower right central incisor
42 26 2┐ lower right lateral incisor
43 27 3┐ lower right canine
44 28 4┐ lower right first premolar
45 29 5┐ lower right second premolar
46 30 6┐ lower right first molar
47 31 7┐ lower right second molar
48 32 8┐ lower right third molar
55 A E┘ upper right primary second molar
54 B D┘ upper right primary first molar
53 C C┘ upper right primary canine
52 D B┘ upper right primary lateral incisor
51 E A┘ upper right primary central incisor
61 F └A upper left primary central incisor
62 G └B upper left primary lateral incisor
63 H └C upper left primary canine
64 I └D upper left primary first molar
65 J └E upper left primary second molar
75 K ┌E lower left primary second molar
74 L ┌D lower left primary first molar
73 M ┌C lower left primary canine
72 N ┌B lower left primary lateral incisor
71 O ┌A lower left primary central incisor
81 P A┐ lower right primary central incisor
82 Q B┐ lower right primary lateral incisor
83 R C┐ lower right primary canine
84 S D┐ lower right primary first molar
85 T E┐ lower right primary second molar
"""
ROWS = [
    (int(iso), universal, symbol, name)
    for iso, universal, symbol, name in (line.split(" ", 3) for line in TABLE.strip().splitlines())
]


def test_oracle_3_the_table_has_thirty_two_and_twenty_teeth() -> None:
    assert len(ROWS) == 52
    assert len(PERMANENT_TEETH) == 32
    assert len(PRIMARY_TEETH) == 20
    assert {row[0] for row in ROWS} == {tooth.iso for tooth in ALL_TEETH}


@pytest.mark.parametrize(
    ("iso", "universal", "symbol", "name"),
    [pytest.param(*row, id=f"oracle-3-tooth-{row[0]}") for row in ROWS],
)
def test_each_tooth_in_every_notation(iso: int, universal: str, symbol: str, name: str) -> None:
    tooth = Tooth(iso)
    assert tooth.universal == universal
    assert tooth.quadrant_symbol == symbol
    assert tooth.name == name


@pytest.mark.parametrize(
    ("iso", "universal", "symbol", "words"),
    [
        # Source: forensicspot.com, tooth numbering systems.
        pytest.param(46, "30", "6┐", "lower right first molar", id="oracle-1"),
        # Source: liquisearch.com, maxillary central incisor, notation.
        pytest.param(51, "E", "A┘", "upper right primary central incisor", id="oracle-2-right"),
        pytest.param(61, "F", "└A", "upper left primary central incisor", id="oracle-2-left"),
    ],
)
def test_named_examples(iso: int, universal: str, symbol: str, words: str) -> None:
    tooth = Tooth(iso)
    assert (tooth.universal, tooth.quadrant_symbol, tooth.name) == (universal, symbol, words)


@pytest.mark.parametrize(
    "iso", [0, 1, 8, 10, 19, 20, 29, 30, 39, 40, 49, 50, 56, 60, 66, 70, 76, 80, 86, 91, 146, -46]
)
def test_oracle_5_there_is_no_such_tooth(iso: int) -> None:
    # Source: ISO 3950:2016 (from memory): 00-08, 10, 20, 30, 40 name areas, not teeth.
    with pytest.raises(ClinicalError) as caught:
        Tooth(iso)
    assert caught.value.mend


@pytest.mark.parametrize(
    ("iso", "kind"),
    [
        # Source: pocketdentistry.com, dentition: there are no primary premolars.
        (11, Kind.INCISOR), (42, Kind.INCISOR), (23, Kind.CANINE), (34, Kind.PREMOLAR),
        (45, Kind.PREMOLAR), (16, Kind.MOLAR), (48, Kind.MOLAR), (54, Kind.MOLAR),
        (85, Kind.MOLAR), (73, Kind.CANINE), (62, Kind.INCISOR),
    ],
)  # fmt: skip
def test_form_of_a_tooth(iso: int, kind: Kind) -> None:
    assert Tooth(iso).kind is kind


def test_number_is_read_digit_by_digit_with_the_patients_side() -> None:
    # Source: ISO 3950 habit (from memory).
    tooth = Tooth(46)
    assert tooth.digits_spoken == ("four", "six")
    assert tooth.spoken_full == "four six, patient's lower right first molar"
    assert (
        tooth.spoken_full_in(Notation.UNIVERSAL) == "three zero, patient's lower right first molar"
    )
    assert Tooth(55).spoken_in(Notation.UNIVERSAL) == "letter a"
    assert tooth.written_in(Notation.QUADRANT_SYMBOL) == "6┐"


@given(st.sampled_from(ALL_TEETH), st.sampled_from(ALL_TEETH))
def test_no_two_teeth_share_a_designation(one: Tooth, other: Tooth) -> None:
    for notation in Notation:
        same = one.written_in(notation) == other.written_in(notation)
        assert same == (one == other)
    assert (one.name == other.name) == (one == other)


@given(st.sampled_from(ALL_TEETH))
def test_spoken_phrases_are_lower_case_words(tooth: Tooth) -> None:
    for notation in Notation:
        said = tooth.spoken_in(notation)
        assert said == said.lower()
        assert all(part.isalpha() for part in said.split())
