"""An invented short plan for the tests of the lessons."""

from __future__ import annotations

from sidecue.procedure.plan import (
    Caution,
    Cue,
    Plan,
    Step,
    Tier,
    TimerKind,
    TimerSpec,
    TrayItem,
)

_PASSING = {
    "mirror": ("mirror", "pair"),
    "explorer": ("explorer", "pair"),
    "syringe": ("loaded syringe", "hidden"),
    "gauze": ("gauze", "single"),
    "clamp-forceps": ("clamp forceps", "two-handed"),
    "etch-syringe": ("etch syringe", "single"),
    "suction": ("suction", "placed"),
    "microbrush": ("microbrush", "single"),
}


def _step(
    identifier: str,
    say: str,
    hand: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    timers: tuple[TimerSpec, ...] = (),
) -> Step:
    done = Cue(f"{identifier}-done", (f"{identifier} is done",), Tier.ADVANCE, "done")
    why = f"the reason for {identifier}"
    return Step(identifier, "part", say, why, done, hand=hand, cautions=cautions, timers=timers)


def lesson_plan() -> Plan:
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, warn=120.0, most=300.0)
    etch = TimerSpec("enamel-etch", TimerKind.WINDOW, least=15.0, most=30.0)
    return Plan(
        procedure="small",
        title="A small filling",
        practice="Practice of the Tests",
        tooth_spoken="four six, lower right first molar",
        case_line="46 O",
        case_facts=(),
        steps=(
            _step("look", "Look at the tooth.", ("mirror", "explorer")),
            _step("inject", "Pass the syringe.", ("syringe", "gauze"), timers=(onset,)),
            _step("clamp", "Seat the clamp.", ("clamp-forceps",)),
            _step(
                "etch",
                "Etch the enamel.",
                ("etch-syringe", "suction", "microbrush"),
                ("acid",),
                (etch,),
            ),
            _step("rinse", "Rinse the acid away.", ("suction",), ("acid",)),
            _step("bite", "Check the bite."),
        ),
        happenings=(),
        emergencies=(),
        cues=(),
        skip_reasons=(),
        address="hello chair",
        facts=(),
        rules=(),
        cautions=(Caution("acid", "Shield the eyes from acid.", "Acid burns.", "common practice"),),
        tray=tuple(
            TrayItem(identifier, spoken, spoken, "exam", "use", (), passing)
            for identifier, (spoken, passing) in _PASSING.items()
        ),
        materials=(),
    )
