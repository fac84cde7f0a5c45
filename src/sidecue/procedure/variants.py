"""Every kind of case at once: sets of case variants as bits of whole numbers.

The variants of a visit are the product of independent axes (tooth and surfaces together,
isolation, adhesive, ...). Each axis lists its alternatives as case facts, taken from the clinical
rules themselves, so that what goes together in a mouth goes together here. Bit number i of a set
says whether variant i belongs to it; walking a procedure once with such sets walks it for every
variant.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache
from itertools import combinations, product

from sidecue.clinical.cavity import CavityClass, cavity_of
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.materials import Material
from sidecue.clinical.matrix import matrix_for, suitable_kinds
from sidecue.clinical.teeth import Tooth
from sidecue.procedure.case_facts import CASE_FACTS, MAY_BE_EMPTY, tooth_facts

Alternative = Mapping[str, tuple[str, ...]]

#: Facts that follow from tooth, surfaces and matrix together.
TOOTH_KEYS = frozenset(
    {"class", "arch", "position", "dentition", "surfaces", "walls-missing", "matrix", "band"}
)
NUMBING_KEYS = frozenset({"anaesthesia", "anaesthetic", "topical"})

# One tooth of each kind, upper and lower; left and right are an axis of their own.
_TEETH = tuple(Tooth(n) for n in (11, 13, 14, 16, 41, 43, 44, 46, 51, 53, 54, 81, 83, 84))
_FEW_SURFACES = ("M", "O", "I", "B", "L", "MO", "MOD", "MOB", "MOL", "MI", "ML")


@cache
def all_tooth_facts(material: Material, every_surface: bool) -> tuple[Alternative, ...]:
    """Return the facts of each tooth kind, its cavities, and each matrix that can hold them."""
    letters: Sequence[str] = _FEW_SURFACES
    if every_surface:
        letters = tuple(
            "".join(some) for size in range(1, 6) for some in combinations("MOIDBLP", size)
        )
    return tuple(_tooth_facts(material, letters))


def _tooth_facts(material: Material, letters: Iterable[str]) -> Iterator[Alternative]:
    for tooth, surfaces in product(_TEETH, letters):
        places: tuple[tuple[bool | None, bool], ...] = ((None, False),)
        if set(surfaces) <= {"B", "L", "P"}:
            places = ((True, False), (False, False))
        elif surfaces == "O":
            places = ((None, False), (None, True))
        for cervical, cusp_tip in places:
            try:
                cavity = cavity_of(tooth, surfaces, cervical=cervical, cusp_tip=cusp_tip)
            except ClinicalError:
                continue
            deep_boxes = (False, True) if cavity.cavity_class is CavityClass.TWO else (False,)
            for kind, deep in product(suitable_kinds(cavity, material), deep_boxes):
                matrix = matrix_for(cavity, material, preferred=kind, deep_box=deep)
                yield tooth_facts(cavity, matrix)


def tooth_alternatives(material: Material, keys: frozenset[str]) -> tuple[Alternative, ...]:
    """Return the distinct facts that tooth, surfaces and matrix can give for these `keys`."""
    wanted = sorted(keys & TOOTH_KEYS)
    every_surface = not keys.isdisjoint({"surfaces", "walls-missing"})
    found: dict[tuple[tuple[str, ...], ...], Alternative] = {}
    for facts in all_tooth_facts(material, every_surface):
        values = tuple(facts[key] for key in wanted)
        found.setdefault(values, dict(zip(wanted, values, strict=True)))
    return tuple(found.values())


def axes(material: str, used: Mapping[str, frozenset[str]]) -> list[tuple[Alternative, ...]]:
    """Return the axes that matter for a procedure that names the case facts in `used`."""
    keys = frozenset(used)
    found: list[tuple[Alternative, ...]] = [({"material": (material,)},)]
    if keys & TOOTH_KEYS:
        found.append(tooth_alternatives(Material(material), keys))
    if keys & NUMBING_KEYS:
        drugs = used.get("anaesthetic", frozenset()) - {"none"} or {"lidocaine"}
        none: Alternative = {"anaesthesia": ("no",), "anaesthetic": ("none",), "topical": ("no",)}
        found.append((none, *(
            {"anaesthesia": ("yes",), "anaesthetic": (drug,), "topical": (topical,)}
            for drug, topical in product(sorted(drugs), ("yes", "no"))
        )))  # fmt: skip
    for key in sorted(keys - TOOTH_KEYS - NUMBING_KEYS - {"material", "flags"}):
        found.append(tuple({key: (value,)} for value in CASE_FACTS[key]))
        if key in MAY_BE_EMPTY:
            found[-1] += ({key: ()},)
    for flag in sorted(used.get("flags", ())):
        found.append(({"flags": ()}, {"flags": (flag,)}))
    return found


class Space:
    """All combinations of the axes' alternatives; sets of them are whole numbers."""

    def __init__(self, alternatives: Sequence[Sequence[Alternative]]) -> None:
        self._axes = [tuple(axis) for axis in alternatives]
        self.size = 1
        for axis in self._axes:
            self.size *= len(axis)
        self.all = (1 << self.size) - 1
        self._strides: list[int] = []
        stride = self.size
        for axis in self._axes:
            stride //= max(1, len(axis))
            self._strides.append(stride)

    def having(self, key: str, value: str) -> int:
        """Return the set of variants in which `key` has `value`."""
        found = 0
        for axis, stride in zip(self._axes, self._strides, strict=True):
            for number, alternative in enumerate(axis):
                if value in alternative.get(key, ()):
                    found |= self._block(len(axis), stride, number)
        return found

    def matching(self, match: Iterable[tuple[str, Iterable[str]]]) -> int:
        """Return the set of variants a `when:` matches."""
        found = self.all
        for key, values in match:
            some = 0
            for value in values:
                some |= self.having(key, value)
            found &= some
        return found

    def example(self, variants: int, possible: int) -> str:
        """Return one variant of a set in words, without what makes no difference to it.

        `possible` holds the variants that count at all; `variants` is a part of it.
        """
        index = (variants & -variants).bit_length() - 1
        told = []
        for axis, stride in zip(self._axes, self._strides, strict=True):
            here = index // stride % len(axis)
            row = (index + (other - here) * stride for other in range(len(axis)))
            if any((possible & ~variants) >> place & 1 for place in row):
                told += [f"{key} {' '.join(v) or 'none'}" for key, v in axis[here].items()]
        return ", ".join(told)

    def _block(self, length: int, stride: int, number: int) -> int:
        period = length * stride
        repeated = self.all // ((1 << period) - 1)
        return (((1 << stride) - 1) << (number * stride)) * repeated
