"""Thresholds that `sidecue tune` set: kept in the user's data folder, numbers only.

One for each engine and microphone. They count only for the very acceptance numbers they were made
with: a probability of other ears is another probability.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import yaml
from platformdirs import user_data_path

from sidecue.hearing.acceptance import Acceptance
from sidecue.hearing.tuning import Thresholds, bounds
from sidecue.procedure.plan import Tier
from sidecue.procedure.source import Document, Fault, LoadError, Place, read_document

VERSION = 1
_HEAD = (
    "# Set by `sidecue tune`, numbers only; `sidecue tune --forget` drops them. A threshold\n"
    "# outside the bounds of its tier is brought back to them.\n"
)
_MEND = "drop it with `sidecue tune --forget`, and tune again"
_WORDS = ("engine", "microphone", "made", "ears")
_COUNTS = ("phrases", "missed", "stretches", "taken")


@dataclass(frozen=True, slots=True)
class Tuning:
    """The thresholds of one engine with one microphone, and what they came from."""

    engine: str
    microphone: str  # by its name
    made: str  # the day, as 2026-11-25
    ears: str  # which acceptance numbers they belong to: see `fingerprint`
    thresholds: Thresholds
    phrases: int  # that were said
    missed: int  # of them, as expected with these thresholds
    stretches: int  # of ordinary talk
    taken: int  # of them, taken for a cue

    def fits(self, model: Acceptance) -> bool:
        """True when it was made with these acceptance numbers."""
        return self.ears == fingerprint(model)

    def applied(self, model: Acceptance) -> Acceptance:
        """Return `model` with these thresholds, each within its bounds."""
        limits = {}
        for tier, shipped in model.thresholds.items():
            low, high = bounds(tier, shipped)
            limits[tier] = min(high, max(low, self.thresholds[tier]))
        return replace(model, thresholds=limits)


def fingerprint(model: Acceptance) -> str:
    """Return a short sign of acceptance numbers; others have another."""
    numbers = {
        "bias": model.bias,
        "weights": dict(model.weights),
        "means": dict(model.means),
        "scales": dict(model.scales),
        "thresholds": {tier.value: limit for tier, limit in model.thresholds.items()},
    }
    text = json.dumps(numbers, sort_keys=True)
    return "ears-" + hashlib.sha256(text.encode()).hexdigest()[:12]


def own_tuning_path() -> Path:
    """Return the file that holds them; it need not exist."""
    return user_data_path("sidecue") / "tuning.yaml"


def own_tunings() -> tuple[Tuning, ...]:
    """Return every one that is kept. Raises LoadError for a damaged file."""
    path = own_tuning_path()
    if not path.exists():
        return ()
    document = read_document(path)
    faults: list[Fault] = []
    tunings = tuple(_tunings(document, faults))
    if faults:
        raise LoadError(faults)
    return tunings


def tuning_for(engine: str, microphone: str) -> Tuning | None:
    """Return the one of an engine and a microphone, or None. Raises LoadError."""
    wanted = (engine, microphone)
    return next((each for each in own_tunings() if (each.engine, each.microphone) == wanted), None)


def keep(tuning: Tuning) -> None:
    """Write it, in place of an older one of its engine and microphone. Raises LoadError, OSError.

    A crash leaves the old file or the new one.
    """
    same = (tuning.engine, tuning.microphone)
    others = [each for each in own_tunings() if (each.engine, each.microphone) != same]
    path = own_tuning_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    data = {"version": VERSION, "tunings": [_plain(each) for each in (*others, tuning)]}
    new = path.with_suffix(".new")
    with new.open("w", encoding="utf-8") as out:
        out.write(_HEAD)
        yaml.safe_dump(data, out, sort_keys=False)
        out.flush()
        os.fsync(out.fileno())
    new.replace(path)


def forget() -> bool:
    """Drop every one, of a damaged file too; return whether there was a file."""
    path = own_tuning_path()
    there = path.exists()
    path.unlink(missing_ok=True)
    return there


def _plain(tuning: Tuning) -> dict[str, object]:
    words = {name: getattr(tuning, name) for name in (*_WORDS, *_COUNTS)}
    return {**words, "thresholds": {tier.value: tuning.thresholds[tier] for tier in Tier}}


def _tunings(document: Document, faults: list[Fault]) -> Iterable[Tuning]:
    data = document.data
    if not isinstance(data, dict) or data.get("version") != VERSION:
        faults.append(
            document.fault(("version",), f"this is no tuning of version {VERSION}", _MEND)
        )
        return
    entries = data.get("tunings")
    if not isinstance(entries, list):
        faults.append(document.fault(("tunings",), "there is no list of tunings", _MEND))
        return
    for number, entry in enumerate(entries):
        place = ("tunings", number)
        what = _wrong(entry)
        if what is not None:
            faults.append(document.fault((*place, *what[0]), what[1], _MEND))
            continue
        limits = {tier: float(_limit(entry["thresholds"], tier)) for tier in Tier}
        named = {name: entry[name] for name in (*_WORDS, *_COUNTS)}
        yield Tuning(**named, thresholds=limits)


def _wrong(entry: object) -> tuple[Place, str] | None:
    """What is wrong with an entry, and where in it."""
    if not isinstance(entry, Mapping):
        return (), "this is no tuning"
    for name in _WORDS:
        if not isinstance(entry.get(name), str):
            return (name,), f"{name!r} is not given in words"
    for name in _COUNTS:
        if type(entry.get(name)) is not int or entry[name] < 0:
            return (name,), f"{name!r} is no count"
    limits = entry.get("thresholds")
    if not isinstance(limits, Mapping):
        return ("thresholds",), "there are no thresholds"
    for tier in Tier:
        limit = _limit(limits, tier)
        if not isinstance(limit, (int, float)) or isinstance(limit, bool) or not 0 < limit < 1:
            return ("thresholds", tier.value), f"the threshold of {tier.value!r} is not in 0 to 1"
    return None


def _limit(limits: Mapping[str, Any], tier: Tier) -> Any:
    """The limit of a tier. Alarms had that of the stop words, until they got one of their own."""
    return limits.get(tier.value, limits.get(Tier.STOP.value) if tier is Tier.ALARM else None)
