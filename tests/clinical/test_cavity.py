"""Surfaces and classes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical.cavity import AmbiguousCavityError, Cavity, CavityClass, cavity_of
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Severity
from sidecue.clinical.surfaces import Surface, parse_surfaces
from sidecue.clinical.teeth import ALL_TEETH, Tooth

CLASSES = "dentaldevotee.com and a second teaching page, classes of cavities"
SIX = "freezingblue.com set 106510: class VI is a later addition"
LETTERS = "procedure-code and teaching usage (from memory)"


@pytest.mark.parametrize(
    ("iso", "letters", "cervical", "expected", "source"),
    [
        pytest.param(26, "MOD", None, "II", CLASSES, id="oracle-8"),
        pytest.param(21, "MI", None, "IV", CLASSES, id="oracle-9"),
        (16, "O", None, "I", CLASSES),
        (46, "OB", None, "I", CLASSES),
        (46, "OL", None, "I", CLASSES),
        (12, "L", None, "I", CLASSES),
        (12, "P", None, "I", CLASSES),
        (46, "B", False, "I", CLASSES),
        (36, "L", False, "I", CLASSES),
        (46, "MO", None, "II", CLASSES),
        (14, "DO", None, "II", CLASSES),
        (46, "MODB", None, "II", CLASSES),
        (54, "MO", None, "II", CLASSES),
        (35, "M", None, "II", CLASSES),
        (11, "M", None, "III", CLASSES),
        (11, "ML", None, "III", CLASSES),
        (23, "DF", None, "III", CLASSES),
        (83, "D", None, "III", CLASSES),
        (21, "MIF", None, "IV", CLASSES),
        (31, "MIFL", None, "IV", CLASSES),
        (43, "DI", None, "IV", CLASSES),
        (34, "B", True, "V", CLASSES),
        (13, "F", True, "V", CLASSES),
        (46, "B", True, "V", CLASSES),
        (12, "L", True, "V", CLASSES),
        (47, "L", True, "V", CLASSES),
        (43, "I", None, "VI", SIX),
        (51, "I", None, "VI", SIX),
    ],
)
def test_class_by_tooth_and_surfaces(
    iso: int, letters: str, cervical: bool | None, expected: str, source: str
) -> None:
    assert cavity_of(Tooth(iso), letters, cervical=cervical).cavity_class.value == expected, source


def test_a_worn_cusp_tip_is_class_six() -> None:
    assert cavity_of(Tooth(46), "O", cusp_tip=True).cavity_class is CavityClass.SIX, SIX
    with pytest.raises(ClinicalError):
        cavity_of(Tooth(46), "MO", cusp_tip=True)


@pytest.mark.parametrize(
    ("iso", "given_letters", "expected"),
    [
        # Order of letters: common practice, no source. Validity: teaching usage (from memory).
        (46, "DOM", "MOD"), (46, "OM", "MO"), (46, "OD", "DO"), (46, "BDOM", "MODB"),
        (46, "LOD", "DOL"), (46, "m-o-d", "MOD"), (46, "M, O", "MO"), (46, "FO", "OB"),
        (26, "PO", "OP"), (11, "IM", "MI"), (11, "ID", "DI"), (11, "LFIM", "MIFL"),
        (11, "BM", "MF"), (21, "M+I", "MI"), (11, "DIM", "MID"),
    ],
)  # fmt: skip
def test_letters_are_put_in_order(iso: int, given_letters: str, expected: str) -> None:
    assert cavity_of(Tooth(iso), given_letters).letters == expected


def test_surfaces_are_read_as_words() -> None:
    assert cavity_of(Tooth(46), "OM").spoken == "mesial occlusal"
    assert cavity_of(Tooth(26), "ODP").spoken == "distal occlusal palatal"


@pytest.mark.parametrize(
    ("iso", "letters"),
    [
        pytest.param(11, "O", id="oracle-6"),
        pytest.param(36, "P", id="oracle-7"),
        (46, "I"), (31, "P"), (54, "I"), (51, "O"), (85, "OP"), (46, "X"), (46, ""), (46, " "),
        (46, "MOM"), (26, "LP"), (46, "BF"), (46, "M0"),
    ],
)  # fmt: skip
def test_surfaces_the_tooth_does_not_have(iso: int, letters: str) -> None:
    with pytest.raises(ClinicalError) as caught:
        cavity_of(Tooth(iso), letters)
    assert not isinstance(caught.value, AmbiguousCavityError), LETTERS


@pytest.mark.parametrize(
    ("iso", "letters", "cervical_class", "else_class"),
    [
        # Derived from the definitions of classes I and V.
        (46, "B", "V", "I"), (26, "P", "V", "I"), (36, "L", "V", "I"), (85, "B", "V", "I"),
        (34, "B", "V", "V"), (11, "F", "V", "V"), (33, "L", "V", "V"),
    ],
)  # fmt: skip
def test_a_side_letter_alone_is_asked_about(
    iso: int, letters: str, cervical_class: str, else_class: str
) -> None:
    with pytest.raises(AmbiguousCavityError) as caught:
        cavity_of(Tooth(iso), letters)
    assert caught.value.if_cervical.cavity_class.value == cervical_class
    assert caught.value.if_not.cavity_class.value == else_class


@pytest.mark.parametrize(
    ("iso", "letters", "cervical"),
    [(46, "MD", None), (11, "IF", None), (34, "B", False), (11, "F", False)],
)
def test_unusual_cavities_are_queried_not_refused(
    iso: int, letters: str, cervical: bool | None
) -> None:
    # Source: common practice, no source.
    cavity = cavity_of(Tooth(iso), letters, cervical=cervical)
    assert [finding.severity for finding in cavity.queries] == [Severity.QUERY]


@pytest.mark.parametrize("letters", ["MO", "O", "MOB"])
def test_cervical_does_not_go_with_other_surfaces(letters: str) -> None:
    with pytest.raises(ClinicalError, match="cervical"):
        cavity_of(Tooth(46), letters, cervical=True)


@pytest.mark.parametrize(
    ("iso", "letters", "walls"),
    [
        # Source: knowt.com teaching cards: a wall that is missing needs a matrix.
        (46, "MO", "M"), (26, "MOD", "MD"), (46, "MODB", "MDB"), (46, "O", ""), (46, "OB", ""),
        (11, "ML", "M"), (21, "MIF", "M"), (43, "I", ""), (26, "DOP", "DP"),
    ],
)  # fmt: skip
def test_missing_walls(iso: int, letters: str, walls: str) -> None:
    cavity = cavity_of(Tooth(iso), letters)
    assert "".join(wall.letter for wall in cavity.missing_walls) == walls


def test_a_cervical_cavity_misses_no_proximal_wall() -> None:
    assert cavity_of(Tooth(34), "B", cervical=True).missing_walls == ()


letters_of = st.text(alphabet="MODIBFLP", min_size=1, max_size=5)


def _cavity(tooth: Tooth, letters: str) -> Cavity | None:
    try:
        return cavity_of(tooth, letters)
    except AmbiguousCavityError as error:
        return error.if_cervical
    except ClinicalError:
        return None


@given(st.sampled_from(ALL_TEETH), letters_of, st.data())
def test_the_order_of_letters_never_matters(
    tooth: Tooth, letters: str, data: st.DataObject
) -> None:
    shuffled = data.draw(st.permutations(letters))
    assert _cavity(tooth, letters) == _cavity(tooth, "".join(shuffled))


@given(st.sampled_from(ALL_TEETH), letters_of)
def test_reading_back_what_was_written_changes_nothing(tooth: Tooth, letters: str) -> None:
    cavity = _cavity(tooth, letters)
    if cavity is not None:
        assert parse_surfaces(tooth, cavity.letters) == cavity.surfaces
        assert not (tooth.posterior and Surface.INCISAL in cavity.surfaces)
        assert tooth.posterior or Surface.OCCLUSAL not in cavity.surfaces


@given(st.sampled_from(ALL_TEETH), letters_of)
def test_classes_two_to_four_are_the_proximal_ones(tooth: Tooth, letters: str) -> None:
    cavity = _cavity(tooth, letters)
    if cavity is not None:
        proximal = cavity.cavity_class in {
            CavityClass.TWO, CavityClass.THREE, CavityClass.FOUR}  # fmt: skip
        assert proximal == bool(cavity.proximal)
        assert not (tooth.posterior and cavity.cavity_class in {
            CavityClass.THREE, CavityClass.FOUR})  # fmt: skip
