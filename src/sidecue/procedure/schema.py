"""The shape of the files in `flows/`. Pydantic stands only here and at the settings boundary.

A procedure file reads aloud to an assistant. `when:` and `unless:` match case facts by name
(`material: [composite]`); there is no expression language. Words in braces (`{tooth}`) come from
the closed list in `words.PLACEHOLDERS`. What all procedures refer to is in `library_schema`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    StringConstraints,
    Tag,
)

from sidecue.procedure.plan import TimerKind

#: What a step may be told a value for; the values come from clinical data, case and practice.
SlotName = Literal["tooth", "surfaces", "shade", "weight", "cartridges", "depth"]

Identifier = Annotated[str, StringConstraints(pattern=r"^[a-z0-9{][a-z0-9{}-]*$")]
Phrase = Annotated[str, StringConstraints(pattern=r"^[a-z{'][a-z_{}' -]*$")]
Sentence = Annotated[str, StringConstraints(min_length=2)]
Match = dict[str, list[str]]
TimeRef = str | float  # "etchant.rinse" (a material's time), "computed.cure", or plain seconds


class FileModel(BaseModel):
    """Base: unknown keys are faults, hyphens in YAML are underscores in Python.

    A number where text is meant (`tooth: 46`) is that text.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        coerce_numbers_to_str=True,
        alias_generator=lambda name: name.replace("_", "-"),
    )


class HandChoice(FileModel):
    """An instrument handed only in some cases."""

    use: Identifier
    when: Match = {}
    unless: Match = {}


class Overdue(FileModel):
    """What follows when a timer's `most` passes unstopped."""

    say: Sentence
    voids: list[Identifier] = []
    back_to: Identifier | None = None


class TimerEntry(FileModel):
    """A named timer. At least one of `least` and `most`; see TimerKind for what they mean."""

    timer: Identifier
    kind: TimerKind
    least: TimeRef | None = None
    warn: TimeRef | None = None
    most: TimeRef | None = None
    no_less_than: Identifier | None = None
    source: str = ""
    overdue: Overdue | None = None


class Begin(FileModel):
    """The cue that starts a timed part of a step, and what it does."""

    cue: list[Phrase] = Field(min_length=1)
    establishes: list[Identifier] = []
    voids: list[Identifier] = []


def _hand_form(value: Any) -> str:
    return "(HandChoice)" if isinstance(value, dict | HandChoice) else "(Identifier)"


Handed = Annotated[
    Annotated[Identifier, Tag("(Identifier)")] | Annotated[HandChoice, Tag("(HandChoice)")],
    Discriminator(_hand_form),
]


class StepEntry(FileModel):
    """One step."""

    step: Identifier
    say: Sentence
    why: Sentence
    hand: list[Handed] = []
    lay: list[
        Handed
    ] = []  # on the tray for this step, not handed by word: the bur in its handpiece
    caution: list[Identifier] = []
    needs: list[Identifier] = []
    begin: Begin | None = None
    cue: list[Phrase] = Field(min_length=1)  # completes the step
    guarded: bool = False  # `cue` is read back and confirmed by a different word
    establishes: list[Identifier] = []
    voids: list[Identifier] = []
    timers: list[TimerEntry] = []  # start at begin, or at cue when there is no begin
    stops: list[Identifier] = []  # timers that end at begin, or at cue when there is no begin
    done_stops: list[Identifier] = []  # timers that end at cue
    asks: list[SlotName] = []  # values that may be said here, each read back and confirmed
    settles: bool = False  # the step is done once all it asks for is confirmed
    closes: list[SlotName] = []  # no more of these values after this step
    optional: bool = False
    round: Literal["every", "last"] = "every"  # in a repeat: only in its last round
    when: Match = {}
    unless: Match = {}


class IncludeEntry(FileModel):
    """Another file's steps in this place."""

    include: Identifier
    when: Match = {}
    unless: Match = {}


class RepeatEntry(FileModel):
    """Steps repeated; `{n}` is the round in digits, `{n_word}` in words, `{of}` how many."""

    repeat: Literal["increments"]
    steps: list[StepEntry] = Field(min_length=1)
    when: Match = {}
    unless: Match = {}


class HappeningEntry(FileModel):
    """Something that sends the procedure back."""

    happening: Identifier
    heard: list[Phrase] = Field(min_length=1)
    say: Sentence
    means: Sentence
    voids: list[Identifier] = Field(min_length=1)
    back_to: Identifier
    while_any: list[Identifier] = Field(min_length=1)
    unless: list[Identifier] = []
    when: Match = {}


def _entry_form(value: Any) -> str:
    """Return which kind of entry stands in `steps:`; anything unknown is judged as a step."""
    for key, form in (("include", IncludeEntry), ("repeat", RepeatEntry)):
        if isinstance(value, form) or (isinstance(value, dict) and key in value):
            return f"({form.__name__})"
    return "(StepEntry)"


Entry = Annotated[
    Annotated[StepEntry, Tag("(StepEntry)")]
    | Annotated[IncludeEntry, Tag("(IncludeEntry)")]
    | Annotated[RepeatEntry, Tag("(RepeatEntry)")],
    Discriminator(_entry_form),
]


class ProcedureFile(FileModel):
    """`flows/procedures/*.yaml` (whole visits) and `flows/parts/*.yaml` (included pieces)."""

    procedure: Identifier
    title: Sentence
    fits: Match = {}
    steps: list[Entry] = Field(min_length=1)
    happenings: list[HappeningEntry] = []


def _as_printed(value: Any) -> Any:
    """Refuse a lot that was read as a decimal number: 1.10 would become 1.1."""
    if isinstance(value, float):
        raise ValueError("a lot with a point needs quotes")  # noqa: TRY004 - pydantic asks for it
    return value


class LotEntry(FileModel):
    """One lot in the drawer; `expiry` is the last day of use, `recalled` says why."""

    lot: Annotated[str, BeforeValidator(_as_printed), Field(min_length=1, max_length=40)]
    expiry: str | None = None  # ISO date
    recalled: str = ""


class MaterialEntry(FileModel):
    """A product of the practice and its IFU times; `times: {rinse: 15 s}`."""

    role: Identifier
    product: Sentence
    kind: Identifier
    times: dict[Identifier, str | None] = {}
    numbers: dict[Identifier, float] = {}  # e.g. increment-mm, target-joules-per-cm2
    notes: str = ""
    when: Match = {}
    supply: Literal["capsule", "sachet", "bulk"] | None = None  # how amalgam is bought
    shades: list[Sentence] = []
    storage: str = ""  # a warning: "Keep in the fridge; take out an hour before."
    product_number: str | None = None  # the GTIN on the package
    lots: list[LotEntry] = []


class LightEntry(FileModel):
    """The curing light. Irradiance in mW/cm2 by the practice's own meter."""

    product: Sentence
    irradiance: float | None = None
    at_mm: dict[int, float] = {}  # the same light, read at these millimetres from the tip


class AnaestheticEntry(FileModel):
    """A local anaesthetic solution in the drawer; `spoken` where its drug's name is not enough."""

    solution: Identifier
    product: Sentence
    cartridge_ml: float
    spoken: Phrase | None = None
    storage: str = ""
    product_number: str | None = None
    lots: list[LotEntry] = []


class PracticeFile(FileModel):
    """`flows/practices/*.yaml`: the office. A time left empty becomes a question."""

    practice: Sentence
    notation: Literal["iso", "universal"] | None = None  # None: both are written here; ask
    jurisdiction: Literal["eu", "us", "northern-ireland", "other"]
    amalgam_derogation: bool = False  # an EU state that reimburses amalgam alone
    clinician_hand: Literal["right", "left"] = "right"
    adhesive: Literal["total-etch", "selective-etch", "self-etch"]
    light: LightEntry
    materials: list[MaterialEntry]
    anaesthetics: list[AnaestheticEntry] = []
    dose_rules: Literal["lower", "us-label"] = "lower"  # which published limits are said aloud
    address: Phrase | None = None
    leave_out: list[Identifier] = []  # optional steps this clinician never uses
    instead: dict[Identifier, Identifier] = {}  # instrument: the clinician's favourite
    wording: dict[Identifier, Sentence] = {}  # step: prompt


class CaseFile(FileModel):
    """A case. No name needed. `tooth` in the practice's notation unless `notation` is given."""

    tooth: str
    notation: Literal["iso", "universal"] | None = None
    surfaces: str
    cervical: bool | None = None
    cusp_tip: bool = False  # a worn cusp tip, class VI on a premolar or molar
    deep_box: bool = False  # the box goes below the gum: extension band
    material: Literal["composite", "amalgam", "glass-ionomer", "resin-glass-ionomer",
                      "interim", "sealant"]  # fmt: skip
    isolation: Literal["dam", "rolls"]
    missing: list[str] = []  # teeth that are not there, in the same notation; for the dam
    clamp: str | None = None  # the clinician's own choice of a clamp, by its number
    visit: Literal["placing", "polishing"] = "placing"  # polishing: what an earlier visit placed
    depth_mm: float | None = None
    tip_distance_mm: float | None = None  # the light's tip to the floor, where it is known
    size: Literal["ordinary", "large"] | None = None  # at the gum: two layers or three
    remaining_dentine_mm: float | None = None
    liner: Literal["none", "calcium-hydroxide", "glass-ionomer", "calcium-hydroxide-covered"] | None = None  # fmt: skip  # noqa: E501
    adhesive: Literal["total-etch", "selective-etch", "self-etch"] | None = None
    matrix: Literal["sectional", "band", "clear-strip", "cervical", "none"] | None = None
    sealer: Literal["varnish", "resin-sealer", "none"] | None = None
    bulk_fill: bool = False
    anaesthetic: Identifier | None = None
    topical: bool = True
    age_years: float | None = None
    weight_kg: float | None = None
    date: str | None = None  # ISO date; for the law on amalgam
    strictly_necessary: bool | None = None  # what the practitioner says about amalgam
    replaces: Literal["nothing", "eugenol-temporary", "temporary", "filling"] | None = None
    flags: list[Literal["latex", "eugenol", "resin", "metal", "sulfite", "pregnancy",
                        "breastfeeding", "kidney", "neurological", "heart", "asthma",
                        "mouth-breather", "bleached", "methaemoglobinaemia"]] = []  # fmt: skip
