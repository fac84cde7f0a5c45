"""Liners: suggestion by depth, order of layers, clashes."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical import liners
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Severity, blocks
from sidecue.clinical.liners import Layer
from sidecue.clinical.materials import Material

REVIEW = "Clin Cosmet Investig Dent 2017, calcium hydroxide review"
TABLES = "operative dentistry textbook tables (from memory)"


@pytest.mark.parametrize(
    ("material", "remaining", "layers", "source"),
    [
        pytest.param(
            "composite", "0.4", ["calcium-hydroxide", "resin-glass-ionomer", "adhesive"], REVIEW,
            id="oracle-15-composite"),
        pytest.param(
            "amalgam", "0.4", ["calcium-hydroxide", "resin-glass-ionomer", "resin-sealer"], REVIEW,
            id="oracle-15-amalgam"),
        ("composite", "0.5", ["calcium-hydroxide", "resin-glass-ionomer", "adhesive"], REVIEW),
        ("composite", "0.6", ["adhesive"], TABLES),
        ("composite", "1", ["adhesive"], TABLES),
        ("composite", "3", ["adhesive"], TABLES),
        ("amalgam", "0.5", ["calcium-hydroxide", "resin-glass-ionomer", "resin-sealer"], REVIEW),
        ("amalgam", "0.51", ["base", "resin-sealer"], TABLES),
        ("amalgam", "1.99", ["base", "resin-sealer"], TABLES),
        ("amalgam", "2", ["resin-sealer"], TABLES),
        ("glass-ionomer", "0.5", ["calcium-hydroxide"], "glass ionomer teaching (from memory)"),
        ("glass-ionomer", "0.6", [], "glass ionomer teaching (from memory)"),
        ("sealant", "3", [], "a sealant has no cavity"),
    ],
)  # fmt: skip
def test_suggestion_by_remaining_dentine(
    material: str, remaining: str, layers: list[str], source: str
) -> None:
    advice = liners.suggest(Material(material), remaining)
    assert [layer.value for layer in advice.layers] == layers, source
    assert advice.advisory


def test_base_makes_two_millimetres() -> None:
    # Source: operative dentistry textbook tables (from memory).
    assert liners.suggest(Material.AMALGAM, "1.2").base_mm == Fraction("0.8")
    assert liners.suggest(Material.AMALGAM, "2.5").base_mm is None


def test_an_exposed_pulp_stops_the_prompts() -> None:
    # Common practice, no source.
    for advice in (
        liners.suggest(Material.COMPOSITE, 1, exposed=True),
        liners.suggest(Material.AMALGAM, 0),
    ):
        assert advice.layers == ()
        assert blocks(advice.findings)
    with pytest.raises(ClinicalError):
        liners.suggest(Material.COMPOSITE, -0.1)


@pytest.mark.parametrize(
    ("layers", "ordered"),
    [
        # Sources: studystack.com cards 597726; older assisting textbooks (from memory).
        (["varnish", "calcium-hydroxide"], ["calcium-hydroxide", "varnish"]),
        (["varnish", "base", "calcium-hydroxide"], ["calcium-hydroxide", "base", "varnish"]),
        (["zinc-phosphate", "varnish"], ["varnish", "zinc-phosphate"]),
        (["varnish", "zinc-oxide-eugenol"], ["zinc-oxide-eugenol", "varnish"]),
        (["adhesive", "etch", "resin-glass-ionomer", "calcium-hydroxide"],
         ["calcium-hydroxide", "resin-glass-ionomer", "etch", "adhesive"]),
        (["resin-sealer", "base"], ["base", "resin-sealer"]),
    ],
)  # fmt: skip
def test_order_of_layers(layers: list[str], ordered: list[str]) -> None:
    assert [layer.value for layer in liners.in_order([Layer(each) for each in layers])] == ordered


@pytest.mark.parametrize(
    ("material", "layer", "refused"),
    [
        # Source: varnish from assisting textbooks (from memory); J Esthet Restor Dent 2007.
        pytest.param("composite", "varnish", True, id="oracle-16-varnish"),
        pytest.param("composite", "zinc-oxide-eugenol", True, id="oracle-16-eugenol"),
        ("resin-glass-ionomer", "zinc-oxide-eugenol", True),
        ("sealant", "zinc-oxide-eugenol", True),
        ("glass-ionomer", "varnish", True),
        ("amalgam", "varnish", False),
        ("amalgam", "zinc-oxide-eugenol", False),
        ("composite", "resin-glass-ionomer", False),
    ],
)
def test_clashes_under_a_filling(material: str, layer: str, refused: bool) -> None:
    assert blocks(liners.check_layers(Material(material), [Layer(layer)])) == refused


@pytest.mark.parametrize(
    ("material", "layers", "warned"),
    [
        # Source: Clin Cosmet Investig Dent 2017: always covered.
        ("composite", ["calcium-hydroxide"], True),
        ("amalgam", ["calcium-hydroxide"], True),
        ("amalgam", ["calcium-hydroxide", "varnish"], True),
        ("amalgam", ["calcium-hydroxide", "base"], False),
        ("composite", ["calcium-hydroxide", "resin-glass-ionomer"], False),
        ("glass-ionomer", ["calcium-hydroxide"], False),
    ],
)
def test_calcium_hydroxide_is_covered(material: str, layers: list[str], warned: bool) -> None:
    found = liners.check_layers(Material(material), [Layer(layer) for layer in layers])
    assert [finding.severity for finding in found] == [Severity.WARN] * warned


def test_resin_after_a_eugenol_temporary_is_warned_about() -> None:
    # Source: J Esthet Restor Dent 2007; bond studies disagree.
    assert liners.after_eugenol_temporary(Material.COMPOSITE)
    assert liners.after_eugenol_temporary(Material.AMALGAM) == ()


@given(
    st.sampled_from(Material),
    st.decimals(min_value="0.01", max_value=5, places=2),
)
def test_no_suggestion_clashes_with_its_own_filling(material: Material, left: object) -> None:
    advice = liners.suggest(material, str(left))
    assert liners.check_layers(material, advice.layers) == ()
    assert liners.in_order(advice.layers) == advice.layers
