"""A small invented visit with a timer of every kind, a happening, values and interlocks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from shipped_library import shipped
from sidecue.procedure.plan import (
    Cue,
    Fact,
    Happening,
    Plan,
    Rule,
    Slot,
    SlotValue,
    Step,
    Tier,
    TimerKind,
    TimerSpec,
)

PHYSICAL = frozenset({"etched", "rinsed", "light-on", "cured", "mixed", "packed", "gone"})


def cue(name: str, tier: Tier = Tier.ADVANCE) -> Cue:
    return Cue(name, (name.replace(".", " ").replace("-", " "),), tier, f"means {name}")


def step(name: str, begin: bool = False, tier: Tier = Tier.ADVANCE, **more: object) -> Step:
    plain = Step(
        id=name, part="small", say=f"Do the {name}.", why="It comes now.",
        done=cue(f"{name}.done", tier), begin=cue(f"{name}.begin") if begin else None,
    )  # fmt: skip
    return replace(plain, **more)  # type: ignore[arg-type]


ENAMEL = TimerSpec("enamel", TimerKind.WINDOW, least=15.0, warn=20.0, most=30.0,
                   overdue_say="Rinse now.")  # fmt: skip
RINSE = TimerSpec("rinse", TimerKind.HARD_MINIMUM, least=15.0, no_less_than="enamel")
CURE = TimerSpec("cure", TimerKind.HARD_MINIMUM, least=20.0)
PACKING = TimerSpec(
    "packing", TimerKind.HARD_MAXIMUM, warn=180.0, most=210.0, overdue_say="Stop. Mix again.",
    overdue_voids=("mixed",), overdue_back_to="mix",
)  # fmt: skip
ONSET = TimerSpec("onset", TimerKind.COUNT_DOWN, warn=120.0, most=300.0)
DRY = TimerSpec("dry", TimerKind.HARD_MINIMUM, least=30.0)

STEPS = (
    step("agree", establishes=("agreed",), timers=(ONSET,), asks=("shade",), settles=True),
    step("look", establishes=("looked",), optional=True),
    step("etch", needs=("agreed",), establishes=("etched",), timers=(ENAMEL,)),
    step("rinse", begin=True, needs=("etched",), establishes=("rinsed",), stops=("enamel",),
         timers=(RINSE,)),
    step("shield", needs=("rinsed",), establishes=("shields-up",)),
    step("cure", begin=True, needs=("rinsed",), begin_establishes=("light-on",),
         establishes=("cured",), voids=("light-on", "shields-up"), timers=(CURE,)),
    step("paint", timers=(DRY,)),
    step("dry", stops=("dry",)),
    step("mix", needs=("cured",), establishes=("mixed",), timers=(PACKING,)),
    step("pack", needs=("mixed",), establishes=("packed",), stops=("packing",)),
    step("count", needs=("packed",), establishes=("counted",)),
    step("leave", establishes=("gone",), tier=Tier.GUARDED),
)  # fmt: skip
RULES = (
    Rule("agree-first", "First agree the tooth.", "test", act="etched", needs=("agreed",)),
    Rule("shields-first", "First raise shields.", "test", act="light-on", needs=("shields-up",)),
    Rule("rinse-first", "First rinse.", "test", act="cured", needs=("rinsed",)),
    Rule("count-first", "First count every piece.", "test", act="gone", needs=("counted",)),
    Rule("dark-while-mixing", "First turn the light off.", "test", never=("light-on", "mixed")),
)
SALIVA = Happening(
    cue("saliva", Tier.GUARDED), "Etch again, then rinse.",
    voids=("etched", "rinsed", "light-on", "shields-up"), back_to="etch",
    while_any=("etched",), unless=("cured",),
)  # fmt: skip
SHADE = Slot(
    "shade",
    tuple(SlotValue(s, cue(f"set.shade.{s}", Tier.GUARDED), f"Shade {s}") for s in ("a", "b", "c")),
)


def small_plan(steps: Iterable[Step] = STEPS, rules: Iterable[Rule] = RULES) -> Plan:
    library, steps, rules = shipped(), tuple(steps), tuple(rules)
    names = {
        fact
        for each in steps
        for fact in (*each.needs, *each.establishes, *each.voids, *each.begin_establishes)
    }
    names.update(fact for rule in RULES for fact in (*rule.needs, *rule.never))
    return Plan(
        procedure="small", title="Small filling", practice="Practice of the Tests",
        tooth_spoken="four six", case_line="46 O", case_facts=(), steps=steps,
        happenings=(SALIVA,), emergencies=library.emergencies[:2], cues=library.cues,
        skip_reasons=library.skip_reasons[:2], address="hello chair",
        facts=tuple(Fact(n, n.replace("-", " "), n in PHYSICAL) for n in sorted(names)),
        rules=rules, cautions=(), tray=(), materials=(), prompts=library.prompts, slots=(SHADE,),
    )  # fmt: skip


def changed(name: str, **new: object) -> tuple[Step, ...]:
    """The steps with one of them changed."""
    return tuple(
        replace(each, **new) if each.id == name else each  # type: ignore[arg-type]
        for each in STEPS
    )
