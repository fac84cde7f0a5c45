"""Damaged procedures: one slip of the pen each, made in copies of the shipped files.

Which damages are *safety-relevant* is decided by their kind and place alone, before any is tried:

- `drop-establish`: the fact is one an interlock needs (`needs` in `flows/rules.yaml`);
- `swap-steps`: an interlock on what the second establishes needs what the first establishes;
- `timer-kind`: the timer is a hard minimum, a hard maximum or a window, and now only counts down;
- `drop-void`: the fact ends with its step, and an interlock of the *never* form or one of the
  proof's laws names it;
- `drop-read-back`: the step was read back before it counted;
- `drop-rule`, `weaken-rule`: the interlock itself, which then is no longer in the plan;
- `overlay`: a practice leaves out a step that is not optional.

A dropped need is not: the interlocks hold the same order at run time, or nothing safety-relevant
was needed. Nor is a timer nobody stops any more: it rings too often, not too late.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from shutil import copytree
from typing import Any

import yaml

Data = dict[str, Any]


@dataclass(frozen=True)
class Damage:
    """One damage: which file it is in, and the file's data with it."""

    kind: str
    file: str  # below the flows folder
    what: str
    data: Data = field(repr=False, compare=False)
    relevant: bool

    def made_in(self, flows: Path, target: Path) -> None:
        """Copy `flows` to `target` with this damage."""
        copytree(flows, target)
        text = yaml.dump(self.data, Dumper=yaml.CSafeDumper, sort_keys=False, allow_unicode=True)
        (target / self.file).write_text(text, "utf-8")


def damages(flows: Path, files: tuple[str, ...]) -> Iterator[Damage]:
    """Yield every damage of the procedure files named, of the rules and of a practice."""
    rules = _read(flows, "rules.yaml")
    for name in files:
        yield from _of_file(_read(flows, name), name, rules)
    yield from _of_rules(rules)
    yield from _of_practice(flows, files)


def _read(flows: Path, name: str) -> Data:
    found: Data = yaml.load((flows / name).read_text("utf-8"), Loader=yaml.CSafeLoader)
    return found


def _of_file(data: Data, name: str, rules: Data) -> Iterator[Damage]:
    needed = {fact for rule in rules["rules"] for fact in rule.get("needs", ())}
    named = {fact for rule in rules["rules"] for fact in rule.get("never", ())}
    named |= {"layer-placed", "resin-cured", "light-on", "shields-up"}  # the proof's laws
    for path, step in _steps(data):
        label = step["step"]
        for fact in step.get("needs", ()):
            yield _changed(data, name, path, "drop-need", f"{label} no longer needs {fact}",
                           False, needs=[f for f in step["needs"] if f != fact])  # fmt: skip
        for fact in step.get("establishes", ()):
            yield _changed(data, name, path, "drop-establish",
                           f"{label} no longer establishes {fact}", fact in needed,
                           establishes=[f for f in step["establishes"] if f != fact])  # fmt: skip
        for fact in step.get("voids", ()):
            yield _changed(data, name, path, "drop-void", f"{label} no longer ends {fact}",
                           fact in named,
                           voids=[f for f in step["voids"] if f != fact])  # fmt: skip
        for number, timer in enumerate(step.get("timers", ())):
            if timer["kind"] == "count-down":
                continue
            timers = copy.deepcopy(step["timers"])
            timers[number] = {"timer": timer["timer"], "kind": "count-down",
                              "most": timer.get("most", timer.get("least")),
                              "source": timer.get("source", "")}  # fmt: skip
            yield _changed(data, name, path, "timer-kind", f"{label}: {timer['timer']} counts down",
                           True, timers=timers)  # fmt: skip
        for timer in step.get("stops", ()):
            yield _changed(data, name, path, "drop-stop", f"{label} no longer stops {timer}",
                           False, stops=[t for t in step["stops"] if t != timer])  # fmt: skip
        if step.get("guarded"):
            yield _changed(data, name, path, "drop-read-back", f"{label} is not read back", True,
                           guarded=False)  # fmt: skip
    yield from _swapped(data, name, rules)


def _swapped(data: Data, name: str, rules: Data) -> Iterator[Damage]:
    order: dict[str, set[str]] = {}
    for rule in rules["rules"]:
        order.setdefault(rule.get("act", ""), set()).update(rule.get("needs", ()))
    paths = [path for path, _ in _steps(data)]
    for first, second in pairwise(paths):
        if first[:-1] != second[:-1]:
            continue
        one, two = _at(data, first), _at(data, second)
        before, after = _gains(one), _gains(two)
        relevant = any(order.get(fact, set()) & before for fact in after)
        damaged = copy.deepcopy(data)
        row = _at(damaged, first[:-1])
        row[first[-1]], row[second[-1]] = row[second[-1]], row[first[-1]]
        what = f"{two['step']} before {one['step']}"
        yield Damage("swap-steps", name, what, damaged, relevant)


def _of_rules(rules: Data) -> Iterator[Damage]:
    for number, rule in enumerate(rules["rules"]):
        damaged = copy.deepcopy(rules)
        del damaged["rules"][number]
        yield Damage("drop-rule", "rules.yaml", rule["rule"], damaged, True)
        if len(rule.get("needs", ())) > 1:
            damaged = copy.deepcopy(rules)
            damaged["rules"][number]["needs"] = rule["needs"][1:]
            what = f"{rule['rule']} no longer needs {rule['needs'][0]}"
            yield Damage("weaken-rule", "rules.yaml", what, damaged, True)


def _of_practice(flows: Path, files: tuple[str, ...]) -> Iterator[Damage]:
    name = "practices/example.yaml"
    practice = _read(flows, name)
    for file in files:
        for _, step in _steps(_read(flows, file)):
            if step.get("optional") or "{" in step["step"]:
                continue
            damaged = practice | {"leave-out": [*practice.get("leave-out", ()), step["step"]]}
            what = f"the practice leaves out {step['step']}"
            yield Damage("overlay", name, what, damaged, True)


def _steps(data: Data) -> Iterator[tuple[tuple[Any, ...], Data]]:
    for number, entry in enumerate(data["steps"]):
        if "step" in entry:
            yield ("steps", number), entry
        for inner, step in enumerate(entry.get("steps", ())):
            yield ("steps", number, "steps", inner), step


def _gains(step: Data) -> set[str]:
    return {*step.get("establishes", ()), *step.get("begin", {}).get("establishes", ())}


def _at(data: Any, path: tuple[Any, ...]) -> Any:
    for key in path:
        data = data[key]
    return data


def _changed(
    data: Data, name: str, path: tuple[Any, ...], kind: str, what: str, relevant: bool, **new: Any
) -> Damage:
    damaged = copy.deepcopy(data)
    _at(damaged, path).update(new)
    return Damage(kind, name, what, damaged, relevant)
