"""Which matrix, and which way round."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical import matrix
from sidecue.clinical.cavity import cavity_of
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Severity, blocks
from sidecue.clinical.materials import Material
from sidecue.clinical.matrix import BandKind, GuideSlot, MatrixKind, matrix_for
from sidecue.clinical.teeth import ALL_TEETH, Tooth


@pytest.mark.parametrize(
    ("iso", "letters", "material", "kind", "wedges"),
    [
        # knowt.com teaching cards (missing wall -> band); wiki.dentalpanda.net (sectional).
        pytest.param(26, "MOD", "amalgam", "band", 2, id="oracle-8"),
        (46, "DO", "amalgam", "band", 1),
        (46, "MO", "composite", "sectional", 1),
        (26, "MOD", "composite", "sectional", 2),
        (46, "MODB", "composite", "band", 2),  # a lost cusp wall: circumferential
        (46, "MO", "glass-ionomer", "band", 1),
        (75, "DO", "interim", "band", 1),
        # Clear strip, for light passes through it: teaching (from memory).
        (11, "ML", "composite", "clear-strip", 1),
        (21, "MIF", "composite", "clear-strip", 1),
        (21, "MD", "composite", "clear-strip", 2),
        # No wall missing, no matrix: knowt.com teaching cards.
        (46, "O", "amalgam", "none", 0),
        (46, "OB", "composite", "none", 0),
        (43, "I", "composite", "none", 0),
        (46, "O", "sealant", "none", 0),
    ],
)  # fmt: skip
def test_kind_and_wedges(iso: int, letters: str, material: str, kind: str, wedges: int) -> None:
    plan = matrix_for(cavity_of(Tooth(iso), letters), Material(material))
    assert (plan.kind.value, plan.wedges) == (kind, wedges)


@pytest.mark.parametrize(
    ("material", "kind"),
    [("composite", "none"), ("amalgam", "none"), ("glass-ionomer", "cervical"),
     ("resin-glass-ionomer", "cervical")],
)  # fmt: skip
def test_class_five(material: str, kind: str) -> None:
    # Source: knowt.com teaching cards and glass ionomer teaching (from memory).
    plan = matrix_for(cavity_of(Tooth(34), "B", cervical=True), Material(material))
    assert plan.kind.value == kind
    assert plan.wedges == 0


@pytest.mark.parametrize(
    ("iso", "deep", "band"),
    [
        # Common practice, no source: straight for premolars, contoured for molars.
        (14, False, "straight"), (35, False, "straight"), (46, False, "contoured"),
        (27, False, "contoured"), (85, False, "contoured"),
        # Source: an assisting course page on the matrix band: extension band for a deep box.
        (46, True, "extension"), (14, True, "extension"),
    ],
)  # fmt: skip
def test_band(iso: int, deep: bool, band: str) -> None:
    assert matrix.band_kind(Tooth(iso), deep_box=deep) is BandKind(band)


def test_no_band_on_an_anterior_tooth() -> None:
    with pytest.raises(ClinicalError):
        matrix.band_kind(Tooth(11))


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        # Source: guide by quadrant, pairing from operative dentistry textbooks (from memory).
        (16, 36, True), (26, 46, True), (16, 26, False), (36, 46, False), (55, 75, True),
        (14, 16, True), (16, 46, False),
    ],
)  # fmt: skip
def test_guide_slot_pairs(one: int, other: int, same: bool) -> None:
    assert (matrix.guide_slot(Tooth(one)) is matrix.guide_slot(Tooth(other))) == same


def test_oracle_10_a_loop_upside_down_is_refused() -> None:
    # Source: assisting course page on the matrix band; brainscape.com lecture cards.
    assert blocks(matrix.check_loop("gingival"))
    assert matrix.check_loop("occlusal") == ()


def test_slots_face_the_gingiva() -> None:
    # Source: knowt.com teaching cards; brainscape.com lecture cards.
    assert blocks(matrix.check_slots("occlusal"))
    assert matrix.check_slots("gingival") == ()


@pytest.mark.parametrize(("iso", "side"), [(46, "lingual"), (36, "lingual"), (26, "palatal")])
def test_oracle_11_wedge_side(iso: int, side: str) -> None:
    # Source: mydentalkey.com, class II amalgam restoration.
    plan = matrix_for(cavity_of(Tooth(iso), "MO"), Material.AMALGAM)
    assert plan.wedge_side == side


def test_retainer_is_buccal_unless_the_buccal_wall_is_missing() -> None:
    # Source: knowt.com teaching cards; the exception from memory.
    ordinary = matrix_for(cavity_of(Tooth(46), "MO"), Material.AMALGAM)
    exception = matrix_for(cavity_of(Tooth(46), "MOB"), Material.AMALGAM)
    assert ordinary.retainer_side == "buccal"
    assert ordinary.guide_slot is GuideSlot.UPPER_LEFT_LOWER_RIGHT
    assert exception.retainer_side == "lingual"
    assert any(finding.severity is Severity.WARN for finding in exception.findings)


def test_upper_first_molar_mesial_mentions_the_buccal_wedge() -> None:
    # Source: operative dentistry textbooks (from memory).
    def texts(iso: int, letters: str) -> str:
        plan = matrix_for(cavity_of(Tooth(iso), letters), Material.AMALGAM)
        return " ".join(finding.text for finding in plan.findings)

    assert "buccal" in texts(16, "MO")
    assert "buccal" not in texts(16, "DO")
    assert "buccal" not in texts(17, "MO")


def test_the_clinician_may_prefer_a_kind_that_works() -> None:
    cavity = cavity_of(Tooth(46), "MO")
    band = matrix_for(cavity, Material.COMPOSITE, preferred=MatrixKind.BAND, deep_box=True)
    assert band.band is BandKind.EXTENSION
    assert any("open contact" in finding.text for finding in band.findings)
    with pytest.raises(ClinicalError, match="takes band"):
        matrix_for(cavity, Material.AMALGAM, preferred=MatrixKind.SECTIONAL)
    with pytest.raises(ClinicalError):
        matrix_for(cavity_of(Tooth(46), "O"), Material.AMALGAM, preferred=MatrixKind.BAND)


def test_amalgam_between_front_teeth_is_queried() -> None:
    # Common practice, no source.
    plan = matrix_for(cavity_of(Tooth(13), "D"), Material.AMALGAM)
    assert any(finding.severity is Severity.QUERY for finding in plan.findings)


def test_band_measures() -> None:
    # Sources: mydentalkey.com (1 mm) and brainscape.com cards (1-2 mm) above the ridge; below the
    # margin, and thicknesses (0.0015-0.002 in), from memory.
    assert matrix.ABOVE_RIDGE_MM == (1.0, 2.0)
    assert matrix.PAST_MARGIN_MM == (0.5, 1.0)
    inches = [round(mm / 25.4, 4) for mm in matrix.BAND_THICKNESS_MM]
    assert inches == [0.0015, 0.002]


@given(st.sampled_from(ALL_TEETH))
def test_opposite_quadrants_share_a_slot(tooth: Tooth) -> None:
    diagonal = {1: 3, 3: 1, 2: 4, 4: 2}[tooth.corner] + (4 if tooth.primary else 0)
    other = Tooth(10 * diagonal + tooth.position)
    assert matrix.guide_slot(tooth) is matrix.guide_slot(other)
