"""The words in braces for one case: tooth, surfaces, matrix, dam. See `words.PLACEHOLDERS`."""

from __future__ import annotations

from sidecue.clinical.amalgam import capsules_for
from sidecue.clinical.isolation import dam_plan
from sidecue.clinical.materials import Material
from sidecue.procedure.case import Case
from sidecue.procedure.words import number_word

_MATERIAL_WORDS = {
    Material.COMPOSITE: "composite",
    Material.AMALGAM: "amalgam",
    Material.GLASS_IONOMER: "glass ionomer",
    Material.RESIN_GLASS_IONOMER: "resin modified glass ionomer",
    Material.INTERIM: "interim filling",
    Material.SEALANT: "sealant",
}


def words_of(case: Case) -> dict[str, str]:
    """Return the word for each placeholder of this case. Raises ValueError without a tooth."""
    tooth, cavity, matrix = case.tooth, case.cavity, case.matrix
    if tooth is None or cavity is None or matrix is None:
        raise ValueError("the tooth of this case is not known")
    dam = dam_plan(tooth, cavity_class=cavity.cavity_class)
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
        "spills": _spills(spills),
    }


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
