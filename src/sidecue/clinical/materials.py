"""The kinds of direct restorative material, in the words a case is written in."""

from __future__ import annotations

from enum import StrEnum


class Material(StrEnum):
    """What the cavity is filled with."""

    COMPOSITE = "composite"
    AMALGAM = "amalgam"
    GLASS_IONOMER = "glass-ionomer"
    RESIN_GLASS_IONOMER = "resin-glass-ionomer"
    INTERIM = "interim"  # reinforced zinc oxide eugenol, or glass ionomer left for a while
    SEALANT = "sealant"

    @property
    def sets_as_resin(self) -> bool:
        """True when it sets by the radical reaction that eugenol and varnish disturb."""
        return self in {Material.COMPOSITE, Material.RESIN_GLASS_IONOMER, Material.SEALANT}
