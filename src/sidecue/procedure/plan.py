"""The plan: concrete, ordered, pure data. What `planning.plan()` returns and a session runs.

Everything here is a frozen dataclass in plain nouns; a plan can be written to JSON and read
back unchanged (see `procedure.exchange`), so a stored session never depends on flow files that
were edited since.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property


class Tier(StrEnum):
    """How much harm a cue can do when it was misheard, and so how it is accepted."""

    FREE = "free"  # changes nothing
    ADVANCE = "advance"  # one utterance undoes it
    GUARDED = "guarded"  # read back; a different word confirms; silence means no
    STOP = "stop"  # always on; one word is enough
    ALARM = "alarm"  # always on; one that nobody gave halts the visit, so it is to be surer

    @property
    def always(self) -> bool:
        """True when it counts without the address phrase, and while the tool itself speaks."""
        return self in (Tier.STOP, Tier.ALARM)


class TimerKind(StrEnum):
    """What a timer's ends mean."""

    HARD_MAXIMUM = "hard-maximum"  # past `most` the work is spoiled: alarm until answered
    HARD_MINIMUM = "hard-minimum"  # the step cannot complete before `least`
    WINDOW = "window"  # not before `least`; overdue after `most`
    COUNT_DOWN = "count-down"  # tells the time; holds nothing back


@dataclass(frozen=True, slots=True)
class Cue:
    """What a person may say now. `phrases` are lower-case words, digits spelled out."""

    id: str
    phrases: tuple[str, ...]
    tier: Tier
    means: str  # for the board: what it does, in a few words


@dataclass(frozen=True, slots=True)
class SlotValue:
    """One value that may be said: its cue, and how it is read back."""

    value: str  # as it is recorded: "A2", "70", "lidocaine-epinephrine-100k:2" (halves)
    cue: Cue  # id `set.<slot>.<value>`, guarded
    say: str  # "Shade A2"
    topping_up: bool = True  # also listened for after the step that asks, in a slot of many
    short: str = ""  # the value alone, enough after "no" while another one is read back


@dataclass(frozen=True, slots=True)
class Slot:
    """Something a step may be told a value for. All its values are symmetric: nothing but words
    and counts depends on which one it is, so two of them stand for all in any exploration."""

    id: str
    values: tuple[SlotValue, ...]
    many: bool = False  # every entry counts (cartridges); else a new one replaces the last
    expected: str = ""  # the plan's own value, read back when another one is said
    others: Cue | None = None  # what disagrees with the plan; always refused
    caution: str = ""  # caution id, said when the plan is disagreed with


@dataclass(frozen=True, slots=True)
class Solution:
    """An anaesthetic solution of the practice: the id of `clinical.anaesthetic`, how it is said,
    and the millilitres in one cartridge."""

    id: str
    spoken: str
    cartridge_ml: float


@dataclass(frozen=True, slots=True)
class AnaestheticCount:
    """What the count of anaesthetic rests on. None: nobody said it."""

    solutions: tuple[Solution, ...]
    rule_set: str = "lower"  # of `clinical.dose_limits.RuleSet`; the practice picks
    weight_kg: float | None = None
    age_years: float | None = None
    heart_disease: bool = False
    sulfite_allergy: bool = False
    methaemoglobinaemia: bool = False
    planned: str = ""  # the case's own: a solution's id, or a drug


@dataclass(frozen=True, slots=True)
class TimerSpec:
    """A named timer of a step. All times in seconds from its start."""

    name: str
    kind: TimerKind
    least: float | None = None
    warn: float | None = None
    most: float | None = None
    no_less_than: str | None = None  # `least` is at least what this other timer ran
    source: str = ""  # "etchant.enamel of Example Etch 37 IFU"
    overdue_say: str = ""
    overdue_voids: tuple[str, ...] = ()  # facts lost when `most` passes unstopped
    overdue_back_to: str | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One step. With a `begin` cue it has two parts: before begin, and under way."""

    id: str
    part: str  # the procedure file it comes from
    say: str  # at most eight words, verb first
    why: str
    done: Cue
    begin: Cue | None = None
    hand: tuple[str, ...] = ()  # instrument ids, in the order handed
    cautions: tuple[str, ...] = ()  # caution ids
    needs: tuple[str, ...] = ()  # facts needed to begin (or complete, without a begin cue)
    establishes: tuple[str, ...] = ()  # facts true once done
    voids: tuple[str, ...] = ()  # facts no longer true once done
    begin_establishes: tuple[str, ...] = ()
    begin_voids: tuple[str, ...] = ()
    timers: tuple[TimerSpec, ...] = ()  # start at `begin`, or at `done` without one
    stops: tuple[str, ...] = ()  # timers that end at `begin`, or at `done` without one
    done_stops: tuple[str, ...] = ()  # timers that end at `done`
    optional: bool = False  # the clinician may leave it out
    asks: tuple[str, ...] = ()  # ids of the slots whose values may be said here
    settles: bool = False  # done once everything it asks for is confirmed
    closes: tuple[str, ...] = ()  # slots of many that take no more once this step is done
    lay: tuple[str, ...] = ()  # instrument ids laid out for it and not handed by word


@dataclass(frozen=True, slots=True)
class Happening:
    """Something that goes wrong in an ordinary way and sends the procedure back."""

    cue: Cue
    say: str
    voids: tuple[str, ...]
    back_to: str  # the step to resume at
    while_any: tuple[str, ...]  # offered only while one of these facts holds
    unless: tuple[str, ...] = ()  # not offered once one of these holds


@dataclass(frozen=True, slots=True)
class Emergency:
    """Reachable from everywhere; the prompts of the procedure stop until it is over."""

    id: str
    cue: Cue
    says: tuple[str, ...]  # short prompts, in order; the last defers to the office's protocol
    source: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A safety reminder."""

    id: str
    say: str  # at most eight words
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Fact:
    """Something that is confirmed true in a session.

    `physical` facts cannot be taken back by words: undo leaves them standing.
    """

    id: str
    text: str
    physical: bool = False


@dataclass(frozen=True, slots=True)
class Rule:
    """An interlock. One of two forms.

    - `act` + `needs`: the fact `act` may be established only while all `needs` hold.
    - `never`: these facts never hold together.
    """

    id: str
    say: str  # the refusal, at most eight words
    source: str
    act: str | None = None
    needs: tuple[str, ...] = ()
    never: tuple[str, ...] = ()
    when: tuple[tuple[str, tuple[str, ...]], ...] = ()  # case facts that make it apply


@dataclass(frozen=True, slots=True)
class TrayItem:
    """One thing on the tray, in order of first use."""

    instrument: str
    name: str
    spoken: str
    family: str
    use: str
    steps: tuple[str, ...]  # ids of the steps that use it
    passing: str = "single"  # how it is handed: single, pair, two-handed, hidden, placed
    count: int = 1  # pieces to lay out

    @property
    def label(self) -> str:
        """The name, with the number of pieces where there is more than one."""
        return self.name if self.count == 1 else f"{self.name}, {self.count} of them"


@dataclass(frozen=True, slots=True)
class PlanMaterial:
    """A material the plan uses: role, product, IFU times in seconds, and the lot to take.

    `expiry` is the lot's last day of use as an ISO date. Both are empty where nobody entered them.
    """

    role: str
    product: str
    times: tuple[tuple[str, float], ...]
    notes: str = ""
    lot: str = ""
    expiry: str = ""
    storage: str = ""
    shades: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Notice:
    """A warning, or a reason the case is refused, with who says so."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Preparation:
    """Something the case itself decides beforehand, as one line, with who says so."""

    name: str  # "clamp", "hole sizes", "light"
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class Advice:
    """A plain sentence for the patient, given only when every fact in `after` came true in the
    session: advice follows what was done, not what was planned."""

    text: str
    source: str
    after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Question:
    """What must be answered before the session may start."""

    id: str  # "material-time:etchant.enamel", "tooth", "surfaces"
    ask: str
    mend: str  # where the answer goes


@dataclass(frozen=True)
class Plan:
    """A procedure made concrete for one case in one practice.

    A plan with `questions` or `blocks` cannot be started. `case_facts` are the plain words that
    `when:` matched against, kept for rules and for the record.
    """

    procedure: str
    title: str
    practice: str
    tooth_spoken: str  # "four six, patient's lower right first molar"
    case_line: str  # "46 MO · composite · dam"
    case_facts: tuple[tuple[str, tuple[str, ...]], ...]
    steps: tuple[Step, ...]
    happenings: tuple[Happening, ...]
    emergencies: tuple[Emergency, ...]
    cues: tuple[Cue, ...]  # the general ones: repeat, undo, pause ...
    skip_reasons: tuple[Cue, ...]
    address: str  # the address phrase
    facts: tuple[Fact, ...]
    rules: tuple[Rule, ...]
    cautions: tuple[Caution, ...]
    tray: tuple[TrayItem, ...]
    materials: tuple[PlanMaterial, ...]
    warnings: tuple[Notice, ...] = ()
    blocks: tuple[Notice, ...] = ()
    questions: tuple[Question, ...] = ()
    advice: tuple[Advice, ...] = ()  # for the patient
    decoys: tuple[str, ...] = ()  # phrases decoded but never acted on
    pronunciations: tuple[tuple[str, str], ...] = field(default=())  # word, phones (ARPAbet)
    prompts: tuple[tuple[str, str], ...] = ()  # what the session itself says, by key
    slots: tuple[Slot, ...] = ()  # those that some step asks for
    anaesthetic: AnaestheticCount | None = None  # None: no local anaesthetic is planned
    preparations: tuple[Preparation, ...] = ()  # in the order of the visit

    @cached_property
    def step_index(self) -> dict[str, int]:
        """Position of each step by id."""
        return {step.id: number for number, step in enumerate(self.steps)}

    @cached_property
    def caution_by_id(self) -> dict[str, Caution]:
        """Cautions by id."""
        return {caution.id: caution for caution in self.cautions}

    @cached_property
    def fact_by_id(self) -> dict[str, Fact]:
        """Facts by id."""
        return {fact.id: fact for fact in self.facts}

    @cached_property
    def tray_by_id(self) -> dict[str, TrayItem]:
        """Tray items by instrument id."""
        return {item.instrument: item for item in self.tray}

    @property
    def startable(self) -> bool:
        """True when nothing blocks it and every question is answered."""
        return not self.blocks and not self.questions
