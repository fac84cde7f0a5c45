"""Behaviour as data: what is heard, pressed or waited for, and what must come of it.

A conversation is one file `PROCEDURE--BEHAVIOUR.yaml` in `conversations/`. Its head says what is
done for whom (`times:` puts other instructions for use in the drawer, seconds by ROLE.NAME,
`drawer:` other anaesthetics, millilitres of a cartridge by solution, `dose-rules:` names the rule
set the practice picked), and `from:` the step it begins at (all before it is done cue by cue, with
the waits the timers ask for). Then come exchanges, each with one of

    heard: PHRASE      said after `after:` seconds (1 unless given), judged by the text engine
    cue: CUE           the same with the first phrase of this cue, after the address
    key: KEY           pressed after `after:` seconds
    wait: SECONDS      nothing happens but time

and what is expected: `step`, `mode`, `under-way`, `says` (every prompt, in order), `says-some`,
`timers` (all that run), `values` (all that stand, as read back), `gained` and `lost` facts (all of
them), `refused` (the interlock, or the words), `unheard: true` (nothing was acted on), `rows`
(types of the journal's new events). What is said and not listed, a fact gained and not listed, an
unknown key: each fails.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml

from shipped_library import shipped
from sidecue.clinical.anaesthetic import solution_named
from sidecue.conductor.conducting import Conductor, Exchange
from sidecue.hearing.text import hear_text
from sidecue.procedure.case import case_of
from sidecue.procedure.plan import Plan, Solution
from sidecue.procedure.planning import plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import CaseFile
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.effects import Effect, Refuse, Say
from sidecue.session.events import Source
from sidecue.session.machine import SessionMachine
from sidecue.session.values import read_back

HERE = Path(__file__).parent
FILES = sorted((HERE / "conversations").glob("*.yaml"))
HEAD = {"procedure", "case", "practice", "times", "drawer", "dose-rules", "from", "exchanges"}
DOES = {"heard", "cue", "key", "wait"}
EXPECTS = {
    "step", "mode", "under-way", "says", "says-some", "timers", "gained", "lost", "refused",
    "unheard", "rows", "values",
}  # fmt: skip
OPENED = "2026-03-02T09:30:00+01:00"


class SilentMouth:
    """Says everything in no time, so that only the words of a conversation take any."""

    def carry_out(self, effects: Iterable[Effect], now: float) -> float:
        return float("-inf")  # nothing sounded, so no echo of it is in the room either

    def busy_until(self, now: float) -> float:
        return now

    def saying(self, now: float) -> tuple[str, ...]:
        return ()


class Chair:
    """One session by text, and what came of the last exchange."""

    def __init__(self, the_plan: Plan) -> None:
        self.journal = MemoryJournal()
        session = self.journal.open_session(the_plan, OPENED)
        self.conductor = Conductor(
            SessionMachine(the_plan), self.journal, session, SilentMouth(), [self._watch]
        )
        self.seen: list[Exchange] = []
        self.now = 0.0
        self.conductor.start(0.0)

    def _watch(self, exchange: Exchange) -> None:
        self.seen.append(exchange)

    @property
    def effects(self) -> list[Effect]:
        return [effect for exchange in self.seen for effect in exchange.effects]

    def let_pass(self, seconds: float) -> None:
        self.now = round(self.now + seconds, 3)
        self.conductor.clock(self.now)

    def hear(self, phrase: str) -> bool:
        vocabulary = self.conductor.vocabulary(self.now, typed=True)
        return self.conductor.hear(hear_text(phrase, self.now, vocabulary), self.now, Source.TEXT)

    def phrase_of(self, name: str) -> str:
        """Return the address and the first phrase of a cue of the plan, active or not."""
        the_plan = self.conductor.machine.plan
        cues = [*the_plan.cues, *the_plan.skip_reasons]
        cues += [each.cue for each in (*the_plan.happenings, *the_plan.emergencies)]
        cues += [cue for each in the_plan.steps for cue in (each.begin, each.done) if cue]
        phrase = next(cue.phrases[0] for cue in cues if cue.id == name)
        return f"{the_plan.address} {phrase}"

    def come_to(self, step: str) -> None:
        """Do every step before `step`, waiting where a timer asks for it."""
        for _ in range(2000):
            state = self.conductor.state
            if state.step == step and not state.under_way:
                return
            self.let_pass(1.0)
            cues = self.conductor.machine.cues_now(self.conductor.state)
            answers = [cue for cue in cues if cue.id == "confirm"]
            own = (answers or cues)[0].phrases[0]
            assert self.hear(f"{self.conductor.machine.plan.address} {own}"), own
        raise AssertionError(f"the visit never comes to {step!r}, it is at {state.step!r}")


def with_time(practice: Practice, role: str, name: str, seconds: float) -> Practice:
    assert any(name in each.times for each in practice.materials if each.role == role), name
    materials = (
        replace(each, times={**each.times, name: seconds}) if each.role == role else each
        for each in practice.materials
    )
    return replace(practice, materials=tuple(materials))


def with_drawer(practice: Practice, drawer: dict[str, float], rules: str | None) -> Practice:
    solutions = tuple(
        Solution(name, solution_named(name).drug.value, size) for name, size in drawer.items()
    )
    return replace(
        practice,
        anaesthetics=solutions or practice.anaesthetics,
        dose_rules=rules or practice.dose_rules,
    )


def plan_of(head: dict[str, Any]) -> Plan:
    practice = shipped().practices[head.get("practice", "example")]
    for name, seconds in head.get("times", {}).items():
        practice = with_time(practice, *name.split("."), float(seconds))
    practice = with_drawer(practice, head.get("drawer", {}), head.get("dose-rules"))
    case = head["case"]
    entry = shipped().cases[case].model if isinstance(case, str) else CaseFile.model_validate(case)
    made = plan(shipped(), head["procedure"], case_of(entry, practice.notation), practice)
    assert made.startable, [*made.blocks, *made.questions]
    return made


def read(path: Path) -> dict[str, Any]:
    told: dict[str, Any] = yaml.safe_load(path.read_text("utf-8"))
    return told


def check(told: dict[str, Any]) -> None:
    assert set(told) <= HEAD, f"unknown keys in the head: {sorted(set(told) - HEAD)}"
    for number, exchange in enumerate(told["exchanges"], start=1):
        does = DOES & set(exchange)
        unknown = set(exchange) - DOES - EXPECTS - {"after"}
        assert not unknown, f"exchange {number}: unknown keys {sorted(unknown)}"
        assert len(does) == 1, f"exchange {number}: one of heard, cue, key and wait"
        assert EXPECTS & set(exchange), f"exchange {number} expects nothing"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_conversation(path: Path) -> None:
    hold(read(path), path.name)


def hold(told: dict[str, Any], name: str) -> None:
    """Hold a conversation and compare. Raises AssertionError at the first surprise."""
    check(told)
    chair = Chair(plan_of(told))
    if "from" in told:
        chair.come_to(told["from"])
    for number, exchange in enumerate(told["exchanges"], start=1):
        chair.seen.clear()
        before = chair.conductor.state
        heard = True
        if "wait" in exchange:
            chair.let_pass(float(exchange["wait"]))
        else:
            chair.let_pass(float(exchange.get("after", 1)))
            if "key" in exchange:
                heard = chair.conductor.press(str(exchange["key"]), chair.now)
            else:
                heard = chair.hear(exchange.get("heard") or chair.phrase_of(exchange["cue"]))
        found = found_by(chair, before.facts, heard)
        expected = {key: exchange[key] for key in EXPECTS & set(exchange)}
        expected.setdefault("unheard", False)
        expected.setdefault("refused", None)
        what = next(exchange[does] for does in DOES if does in exchange)
        label = f"{name}, exchange {number} ({what})"
        some = expected.pop("says-some", [])
        missing = [words for words in some if words not in found["says"]]
        assert not missing, f"{label}: not said: {missing}; said: {found['says']}"
        if expected["refused"] is not None and expected["refused"] in found["refused-by"]:
            expected["refused"] = found["refused"]
        for facts in ("gained", "lost", "timers"):
            if facts in expected:
                expected[facts] = sorted(expected[facts])
        assert {key: found[key] for key in expected} == expected, label


def found_by(chair: Chair, facts: frozenset[str], heard: bool) -> dict[str, Any]:
    state = chair.conductor.state
    refusals = [effect for effect in chair.effects if isinstance(effect, Refuse)]
    return {
        "step": state.step,
        "mode": state.mode.value,
        "under-way": state.under_way,
        "says": [effect.text for effect in chair.effects if isinstance(effect, Say)],
        "timers": sorted(timer.spec.name for timer in state.timers),
        "gained": sorted(state.facts - facts),
        "lost": sorted(facts - state.facts),
        "refused": refusals[-1].why if refusals else None,
        "refused-by": [refusals[-1].rule, refusals[-1].why] if refusals else [],
        "unheard": not heard,
        "values": [read_back(chair.conductor.machine.plan, value) for value in state.values],
        "rows": [type(exchange.event).__name__ for exchange in chair.seen],
    }


SURPRISES = {
    "a prompt that is not listed": {"cue": "sign-in.done", "says": ["Read allergies aloud."]},
    "a prompt that is not said": {"cue": "sign-in.done", "says-some": ["Rinse now."]},
    "a fact that is not listed": {"cue": "sign-in.done", "gained": []},
    "another step": {"cue": "sign-in.done", "step": "sign-in"},
    "a refusal that is not listed": {"cue": "skip", "step": "sign-in"},
    "a phrase that is not heard": {"heard": "okay tray identity is fine", "step": "sign-in"},
    "another row": {"cue": "sign-in.done", "rows": ["TimePassed"]},
    "an unknown key": {"cue": "sign-in.done", "step": "allergies", "speaks": []},
    "nothing expected": {"cue": "sign-in.done"},
    "two things at once": {"cue": "sign-in.done", "wait": 3, "step": "allergies"},
}


@pytest.mark.parametrize("surprise", SURPRISES)
def test_a_surprise_fails(surprise: str) -> None:
    told = {
        "procedure": "composite-class-2",
        "case": "composite-46-mo",
        "exchanges": [SURPRISES[surprise]],
    }
    with pytest.raises(AssertionError):
        hold(told, "surprise")


def test_there_are_conversations() -> None:
    assert len(FILES) >= 20


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_name_says_what_is_asserted(path: Path) -> None:
    told = read(path)
    procedure, mark, behaviour = path.stem.partition("--")
    assert mark
    assert procedure == told["procedure"]
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)+", behaviour)
    refuses = any("refused" in exchange for exchange in told["exchanges"])
    assert refuses or "refused" not in behaviour


def test_no_conversation_is_told_twice() -> None:
    told: dict[str, str] = {}
    for path in FILES:
        content = yaml.safe_dump(yaml.safe_load(path.read_text("utf-8")), sort_keys=True)
        assert content not in told, f"{path.name} tells the same as {told[content]}"
        told[content] = path.name
