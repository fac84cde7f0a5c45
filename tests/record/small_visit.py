"""A short invented visit for the tests of the record: etch, rinse, place, check the bite."""

from __future__ import annotations

from dataclasses import replace

from sidecue.procedure.plan import (
    Advice,
    Caution,
    Cue,
    Emergency,
    Fact,
    Happening,
    Plan,
    PlanMaterial,
    Rule,
    Step,
    Tier,
    TimerKind,
    TimerSpec,
    TrayItem,
)
from sidecue.session.prompts import KEYS

OPENED = "2026-03-02T09:30:00+01:00"


def cue(identifier: str, phrase: str, tier: Tier = Tier.ADVANCE) -> Cue:
    return Cue(identifier, (phrase,), tier, f"means {identifier}")


STEPS = (
    Step(
        id="numb",
        part="opening",
        say="Numb the tooth.",
        why="Pain makes a patient move.",
        done=cue("numb-done", "tooth is numb"),
        hand=("syringe",),
        establishes=("numb",),
        optional=True,
    ),
    Step(
        id="etch",
        part="bonding",
        say="Etch the enamel.",
        why="Etched enamel holds the resin.",
        begin=cue("etch-on", "etch is on"),
        done=cue("etch-done", "etching is done"),
        hand=("etch-tip", "suction"),
        cautions=("acid",),
        begin_establishes=("etched",),
        timers=(
            TimerSpec(
                "etch",
                TimerKind.HARD_MAXIMUM,
                warn=12.0,
                most=15.0,
                source="etchant.dentine of Invented Etch 37 IFU",
                overdue_say="Rinse now.",
            ),
        ),
        done_stops=("etch",),
    ),
    Step(
        id="rinse",
        part="bonding",
        say="Rinse the acid away.",
        why="Acid left behind weakens the bond.",
        begin=cue("water-on", "water is on"),
        done=cue("rinse-done", "rinsing is done"),
        hand=("air-water", "suction"),
        needs=("etched",),
        establishes=("rinsed",),
        timers=(TimerSpec("rinse", TimerKind.HARD_MINIMUM, least=15.0, no_less_than="etch"),),
    ),
    Step(
        id="place",
        part="filling",
        say="Place the composite.",
        why="It fills the cavity.",
        done=cue("place-done", "composite is placed"),
        hand=("plastic",),
        establishes=("filled",),
    ),
    Step(
        id="bite",
        part="closing",
        say="Check the bite.",
        why="A high filling hurts.",
        done=cue("bite-done", "bite is good"),
        hand=("paper",),
        needs=("filled",),
        establishes=("bite-checked",),
    ),
)

GENERAL = tuple(
    cue(identifier, identifier.replace("-", " ") + " please", tier)
    for identifier, tier in (
        ("repeat", Tier.FREE),
        ("what-next", Tier.FREE),
        ("how-long", Tier.FREE),
        ("which-tooth", Tier.FREE),
        ("status", Tier.FREE),
        ("quiet", Tier.STOP),
        ("undo", Tier.ADVANCE),
        ("skip", Tier.GUARDED),
        ("pause", Tier.STOP),
        ("resume", Tier.ADVANCE),
        ("confirm", Tier.ADVANCE),
        ("deny", Tier.ADVANCE),
        ("emergency-over", Tier.GUARDED),
    )
)


def small_plan() -> Plan:
    names = {
        "syringe": "syringe",
        "etch-tip": "etch tip",
        "suction": "suction",
        "air-water": "air water syringe",
        "plastic": "plastic instrument",
        "paper": "bite paper",
    }
    return Plan(
        procedure="small-visit",
        title="A small filling",
        practice="Practice of the Tests",
        tooth_spoken="four six, lower right first molar",
        case_line="46 O · composite · rolls",
        case_facts=(("material", ("composite",)),),
        steps=STEPS,
        happenings=(
            Happening(
                cue=cue("saliva", "saliva got in", Tier.GUARDED),
                say="Saliva: etch again.",
                voids=("etched", "rinsed"),
                back_to="etch",
                while_any=("etched",),
                unless=("filled",),
            ),
        ),
        emergencies=(
            Emergency(
                id="faint",
                cue=cue("faint", "patient has fainted", Tier.STOP),
                says=("Lay the patient flat.", "Follow your office protocol."),
                source="common practice, no source",
            ),
        ),
        cues=GENERAL,
        skip_reasons=(cue("not-needed", "it is not needed", Tier.GUARDED),),
        address="hello chair",
        facts=tuple(
            Fact(identifier, text, physical)
            for identifier, text, physical in (
                ("numb", "tooth is numb", True),
                ("etched", "cavity is etched", True),
                ("rinsed", "acid is rinsed off", False),
                ("filled", "filling is placed", True),
                ("bite-checked", "bite is checked", False),
            )
        ),
        rules=(
            Rule(
                id="rinse-before-filling",
                say="Rinse before you fill.",
                source="common practice, no source",
                act="filled",
                needs=("rinsed",),
            ),
        ),
        cautions=(Caution("acid", "Shield the eyes from acid.", "Acid burns.", "common practice"),),
        tray=tuple(
            TrayItem(identifier, name, name, "exam", "use", ())
            for identifier, name in names.items()
        ),
        materials=(PlanMaterial("etchant", "Invented Etch 37", (("dentine", 15.0),)),),
        advice=(
            Advice("Your lip stays numb for some hours. Do not bite it.", "PO4", after=("numb",)),
            Advice("You may eat when the numbness is gone.", "PO2", after=("filled", "numb")),
            Advice("You may eat at once.", "PO2", after=("filled",)),
        ),
        prompts=tuple(sorted((key, _prompt(key)) for key in KEYS)),
    )


def _prompt(key: str) -> str:
    words = {"hand": "{items}", "missing": "{fact}", "wait": "{seconds}", "timer-over": "{name}"}
    return f"{key.capitalize()}: {words[key]}." if key in words else f"{key.capitalize()}."


def unfinishable(plan: Plan) -> Plan:
    """The same plan with the rule removed, so that its digest differs."""
    return replace(plan, rules=())
