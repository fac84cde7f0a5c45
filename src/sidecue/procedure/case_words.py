"""The words in braces for one case: tooth, surfaces, matrix, dam. See `words.PLACEHOLDERS`."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from sidecue.clinical.amalgam import capsules_for
from sidecue.clinical.materials import Material
from sidecue.clinical.matrix import MatrixKind, MatrixPlan
from sidecue.procedure.case import Case
from sidecue.procedure.words import number_word

BOTH = 2  # a cavity with both sides open

#: What a matrix leaves to count, by one open side or both.
_MATRIX_THINGS: Mapping[MatrixKind, tuple[list[str], list[str]]] = {
    MatrixKind.NONE: ([], []),
    MatrixKind.CERVICAL: (["matrix"], []),
    MatrixKind.BAND: (["wedge", "band"], ["wedges", "band"]),
    MatrixKind.SECTIONAL: (["ring", "wedge", "section"], ["rings", "wedges", "sections"]),
    MatrixKind.CLEAR_STRIP: (["wedge", "strip"], ["wedges", "strip"]),
}

#: What a step puts into the mouth, by the fact that it is in; a matrix is told by its kind.
_PLACED = (
    ("clamp-seated", "clamp"), ("rolls-in", "rolls"), ("throat-guarded", "screen"),
    ("cord-in", "cord"),
)  # fmt: skip
_MATRIX_IN = frozenset({"matrix-placed", "band-seated"})

_MATERIAL_WORDS = {
    Material.COMPOSITE: "composite",
    Material.AMALGAM: "amalgam",
    Material.GLASS_IONOMER: "glass ionomer",
    Material.RESIN_GLASS_IONOMER: "resin modified glass ionomer",
    Material.INTERIM: "interim filling",
    Material.SEALANT: "sealant",
}


def material_words(material: Material) -> str:
    """Return a material as it is said."""
    return _MATERIAL_WORDS[material]


def words_of(case: Case, gained: Collection[str]) -> dict[str, str]:
    """Return the word for each placeholder of this case; `gained` are the facts its steps bring.

    Raises ValueError without a tooth.
    """
    tooth, cavity, matrix = case.tooth, case.cavity, case.matrix
    dam = case.dam
    if tooth is None or cavity is None or matrix is None or dam is None:
        raise ValueError("the tooth of this case is not known")
    wedges = matrix.wedges
    spills = capsules_for(len(cavity.surfaces))
    return {
        "tooth": tooth.name,
        "tooth_digits": tooth.spoken_in(case.notation),
        "surfaces": cavity.spoken,
        "class": cavity.cavity_class.spoken,
        "material": _MATERIAL_WORDS[case.material],
        "anchor": dam.anchor.spoken_in(case.notation),
        "clamp": dam.family.value,
        "teeth": number_word(len(dam.isolated)),
        "band": "straight" if matrix.band is None else matrix.band.value,
        "retainer_side": matrix.retainer_side or "buccal",
        "wedges": "one wedge" if wedges == 1 else f"{number_word(wedges)} wedges",
        "wedge_side": matrix.wedge_side or ("palatal" if tooth.arch == "upper" else "lingual"),
        "the_wedges": "the wedge" if wedges < BOTH else "both wedges",
        "sections": "the section" if wedges < BOTH else "both sections",
        "rings": "the ring" if wedges < BOTH else "both rings",
        "box_walls": "box wall" if wedges < BOTH else "both walls",
        "facial_side": "buccal" if tooth.posterior else "labial",
        "edge": "occlusal" if tooth.posterior else "incisal",
        "counted": _counted(case, matrix, gained),
        "spills": _spills(spills),
    }


def _counted(case: Case, matrix: MatrixPlan, gained: Collection[str]) -> str:
    """Return what goes into the mouth in this visit and is counted out again at its end.

    The pieces of the sheet are counted as it comes off, long before.
    """
    things = [thing for fact, thing in _PLACED if fact in gained]
    if not _MATRIX_IN.isdisjoint(gained):
        things += _MATRIX_THINGS[matrix.kind][matrix.wedges == BOTH]
    if "injected" in gained:
        things.append("needle")
    return f"{', '.join(things[:-1])} and {things[-1]}" if len(things) > 1 else "".join(things)


def case_line(case: Case) -> str:
    """Return the case in one line for lists and headings: `46 MO · composite · dam`."""
    where = case.entry.tooth if case.tooth is None else case.tooth.written_in(case.notation)
    letters = case.entry.surfaces if case.cavity is None else case.cavity.letters
    material = _MATERIAL_WORDS[case.material]
    isolation = "cotton rolls" if case.entry.isolation == "rolls" else "dam"
    return f"{where} {letters} · {material} · {isolation}"


def _spills(spills: tuple[int, ...]) -> str:
    numbers = " and ".join(number_word(number) for number in spills)
    return f"{numbers} spill" if spills == (1,) else f"{numbers} spills"
