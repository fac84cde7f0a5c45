"""Whether an instructions-for-use time looks like what such products usually ask for.

The instructions win; a time outside the usual bounds is only asked to be read again.
"""

from __future__ import annotations

from sidecue.clinical import etching, sources
from sidecue.clinical.amalgam import HANDLING, Alloy
from sidecue.clinical.etching import AdhesiveMode, TimeBounds
from sidecue.clinical.finding import Finding
from sidecue.clinical.setting import Cement, Use, setting_range
from sidecue.procedure.interlocks import CaseFacts

_FIXED = {
    "etchant.rinse": TimeBounds(etching.RINSE_LEAST_S, None, sources.ETCH_NOTES),
    "adhesive.scrub": etching.SCRUB,
    "adhesive.air": etching.AIR_THIN,
    "adhesive.cure": etching.ADHESIVE_CURE,
    "conditioner.apply": etching.CONDITIONER,
}
_CEMENTS = {"glass-ionomer.set": (Cement.GLASS_IONOMER, Use.RESTORATIVE)}


def time_findings(reference: str, seconds: float, case_facts: CaseFacts) -> tuple[Finding, ...]:
    """Return a caution when `reference` (such as `etchant.dentine`) is outside what is usual."""
    bounds = _bounds(reference, case_facts)
    if bounds is None:
        return ()
    return etching.check_time(reference.replace(".", " "), seconds, bounds)


def _bounds(reference: str, case_facts: CaseFacts) -> TimeBounds | None:
    mode = AdhesiveMode(case_facts["adhesive"][0])
    primary = "primary" in case_facts["dentition"]
    if reference == "etchant.enamel":
        return etching.enamel_bounds(mode, primary=primary)
    if reference == "etchant.dentine":
        return etching.dentine_bounds(mode)
    if reference in ("amalgam.work", "amalgam.carve") and case_facts["alloy"]:
        handling = HANDLING[Alloy(case_facts["alloy"][0])]
        carving = (handling.carve_least_s, handling.carve_most_s)
        least, most = (None, handling.work_most_s) if reference == "amalgam.work" else carving
        return TimeBounds(least, most, sources.AMALGAM_TEACHING)
    if reference in _CEMENTS:
        usual = setting_range(*_CEMENTS[reference])
        return TimeBounds(int(usual.least_min * 60), int(usual.most_min * 60), usual.source)
    return _FIXED.get(reference)
