"""A small invented visit with one of everything the machine knows, and a driver for it.

Times are those of the trade's usual etch-and-rinse and amalgam figures, so that a test reads like
the chair; what the tests here check is the machine, not the figures.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import yaml

from sidecue.procedure.plan import (
    Caution,
    Cue,
    Emergency,
    Fact,
    Happening,
    Plan,
    Rule,
    Step,
    Tier,
    TimerKind,
    TimerSpec,
    TrayItem,
)
from sidecue.session.effects import Chime, Effect, Refuse, Say
from sidecue.session.events import CueGiven, Event, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

FLOWS = Path(__file__).resolve().parents[2] / "flows"
PROMPTS: dict[str, str] = yaml.safe_load((FLOWS / "prompts.yaml").read_text("utf-8"))["prompts"]

PHYSICAL = frozenset(
    {"etched", "dentine-etched", "rinsed", "light-on", "cured", "mixed", "packed", "gone"}
)
CLAIMS = ("agreed", "looked", "shields-up", "counted")
INSTRUMENTS = ("explorer", "etch-syringe", "suction", "curing-light", "condenser")


def cue(name: str, phrase: str | None = None, tier: Tier = Tier.ADVANCE) -> Cue:
    return Cue(name, (phrase or name.replace(".", " ").replace("-", " "),), tier, f"means {name}")


def step(name: str, begin: bool = False, tier: Tier = Tier.ADVANCE, **more: object) -> Step:
    """A step whose cues are `NAME.begin` and `NAME.done`."""
    plain = Step(
        id=name,
        part="small",
        say=f"Do the {name.replace('-', ' ')}.",
        why="It comes now.",
        done=cue(f"{name}.done", tier=tier),
        begin=cue(f"{name}.begin") if begin else None,
    )
    return replace(plain, **more)  # type: ignore[arg-type]


ENAMEL = TimerSpec("enamel", TimerKind.WINDOW, least=15.0, warn=20.0, most=30.0)
DENTINE = TimerSpec(
    "dentine", TimerKind.HARD_MAXIMUM, warn=12.0, most=15.0, overdue_say="Rinse now."
)
RINSE = TimerSpec("rinse", TimerKind.HARD_MINIMUM, least=15.0, no_less_than="enamel")
CURE = TimerSpec("cure", TimerKind.HARD_MINIMUM, least=20.0)
PACKING = TimerSpec(
    "packing",
    TimerKind.HARD_MAXIMUM,
    warn=180.0,
    most=210.0,
    overdue_say="Stop. Take a new capsule.",
    overdue_voids=("mixed",),
    overdue_back_to="mix",
)
ONSET = TimerSpec("onset", TimerKind.COUNT_DOWN, warn=120.0, most=300.0)

STEPS = (
    step("agree", establishes=("agreed",), timers=(ONSET,)),
    step("look", establishes=("looked",), hand=("explorer",), cautions=("eyes",), optional=True),
    step(
        "etch",
        needs=("agreed",),
        establishes=("etched",),
        hand=("etch-syringe", "suction"),
        cautions=("acid", "eyes"),
        timers=(ENAMEL,),
    ),
    step("dentine", needs=("etched",), establishes=("dentine-etched",), timers=(DENTINE,)),
    step(
        "rinse",
        begin=True,
        needs=("etched",),
        establishes=("rinsed",),
        stops=("enamel", "dentine"),
        timers=(RINSE,),
    ),
    step("shield", needs=("rinsed",), establishes=("shields-up",)),
    step(
        "cure",
        begin=True,
        hand=("curing-light",),
        needs=("rinsed",),
        begin_establishes=("light-on",),
        establishes=("cured",),
        voids=("light-on", "shields-up"),
        timers=(CURE,),
    ),
    step("mix", needs=("cured",), establishes=("mixed",), timers=(PACKING,)),
    step(
        "pack", needs=("mixed",), establishes=("packed",), hand=("condenser",), stops=("packing",)
    ),
    step("count", needs=("packed",), establishes=("counted",)),
    step("leave", establishes=("gone",), tier=Tier.GUARDED),
    step("tidy"),
)
RULES = (
    Rule("agree-before-etch", "First agree the tooth.", "test", act="etched", needs=("agreed",)),
    Rule(
        "shields-first", "First raise the shields.", "test", act="light-on", needs=("shields-up",)
    ),
    Rule("count-first", "First count every piece.", "test", act="gone", needs=("counted",)),
)
SALIVA = Happening(
    cue("saliva", tier=Tier.GUARDED),
    "Etch again, then rinse.",
    voids=("etched", "dentine-etched", "rinsed"),
    back_to="etch",
    while_any=("etched",),
    unless=("cured",),
)
BAD_MIX = Happening(
    cue("bad-mix", tier=Tier.GUARDED),
    "Throw it out, mix again.",
    voids=("mixed",),
    back_to="mix",
    while_any=("mixed",),
    unless=("packed",),
)
EMERGENCIES = tuple(
    Emergency(
        name,
        cue(f"emergency.{name}", f"{name} alarm", Tier.STOP),
        (f"Stop for the {name}.", "Follow your office protocol."),
        "test",
    )
    for name in ("splash", "faint")
)
TIERS = {
    "repeat": Tier.FREE, "what-next": Tier.FREE, "how-long": Tier.FREE, "which-tooth": Tier.FREE,
    "status": Tier.FREE, "undo": Tier.ADVANCE, "skip": Tier.GUARDED, "confirm": Tier.GUARDED,
    "deny": Tier.ADVANCE, "pause": Tier.STOP, "resume": Tier.ADVANCE, "quiet": Tier.STOP,
    "emergency-over": Tier.GUARDED,
}  # fmt: skip
REASONS = (cue("not-needed", tier=Tier.GUARDED), cue("clinician-decides", tier=Tier.GUARDED))


def small_plan(
    steps: Iterable[Step] = STEPS,
    rules: Iterable[Rule] = RULES,
    happenings: Iterable[Happening] = (SALIVA, BAD_MIX),
    physical: Iterable[str] = PHYSICAL,
) -> Plan:
    steps, rules, physical = tuple(steps), tuple(rules), frozenset(physical)
    names = {fact for each in steps for fact in _facts_of(each)}
    names.update(fact for rule in rules for fact in (*rule.needs, *rule.never))
    return Plan(
        procedure="small",
        title="Small filling",
        practice="Practice of the Tests",
        tooth_spoken="four six, patient's lower right first molar",
        case_line="46 O",
        case_facts=(("isolation", ("rolls",)),),
        steps=steps,
        happenings=tuple(happenings),
        emergencies=EMERGENCIES,
        cues=tuple(cue(name, tier=tier) for name, tier in TIERS.items()),
        skip_reasons=REASONS,
        address="hello chair",
        facts=tuple(Fact(n, n.replace("-", " "), n in physical) for n in sorted(names)),
        rules=rules,
        cautions=(
            Caution("acid", "Keep suction near.", "Acid burns.", "test"),
            Caution("eyes", "Cover all eyes.", "Acid and light harm eyes.", "test"),
        ),
        tray=tuple(
            TrayItem(name, name, name.replace("-", " "), "exam", "use", ()) for name in INSTRUMENTS
        ),
        materials=(),
        prompts=tuple(PROMPTS.items()),
    )


def _facts_of(each: Step) -> tuple[str, ...]:
    return (
        *each.needs, *each.establishes, *each.voids, *each.begin_establishes, *each.begin_voids,
        *(fact for timer in each.timers for fact in timer.overdue_voids),
    )  # fmt: skip


@dataclass
class Visit:
    """Drives one machine and keeps what came of the last event."""

    machine: SessionMachine
    state: SessionState
    effects: tuple[Effect, ...] = ()

    @property
    def said(self) -> list[str]:
        return [effect.text for effect in self.effects if isinstance(effect, Say)]

    @property
    def refusals(self) -> list[Refuse]:
        return [effect for effect in self.effects if isinstance(effect, Refuse)]

    @property
    def chimes(self) -> list[str]:
        return [effect.kind.value for effect in self.effects if isinstance(effect, Chime)]

    @property
    def active(self) -> set[str]:
        return {each.id for each in self.machine.cues_now(self.state)}

    @property
    def running(self) -> set[str]:
        return {timer.spec.name for timer in self.state.timers}

    def give(self, event: Event) -> Visit:
        self.state, self.effects = self.machine.step(self.state, event)
        return self

    def cue(self, name: str, after: float = 0.0) -> Visit:
        return self.give(CueGiven(self.state.now + after, name))

    def cues(self, *names: str, after: float = 0.0) -> Visit:
        for name in names:
            self.cue(name, after)
        return self

    def wait(self, seconds: float) -> Visit:
        return self.give(TimePassed(self.state.now + seconds))


def visit(plan: Plan | None = None) -> Visit:
    """A visit that has been started at second 0."""
    machine = SessionMachine(plan or small_plan())
    return Visit(machine, machine.first()).give(Started(0.0))


#: How to come to each step in order, cue by cue, with the seconds to wait before each.
PATH: tuple[tuple[str, float], ...] = (
    ("agree.done", 1), ("look.done", 1), ("etch.done", 1), ("dentine.done", 5),
    ("rinse.begin", 10), ("rinse.done", 15), ("shield.done", 1), ("cure.begin", 1),
    ("cure.done", 20), ("mix.done", 1), ("pack.done", 60), ("count.done", 1), ("leave.done", 1),
    ("confirm", 1), ("tidy.done", 1),
)  # fmt: skip


def visit_at(cue_name: str, plan: Plan | None = None) -> Visit:
    """A visit just before `cue_name` of PATH is given."""
    going = visit(plan)
    for name, after in PATH:
        if name == cue_name:
            return going
        going.cue(name, after)
    raise KeyError(cue_name)


def finished_visit() -> Visit:
    going = visit()
    for name, after in PATH:
        going.cue(name, after)
    return going
