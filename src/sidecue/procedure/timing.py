"""Times: what `etchant.rinse` and `computed.cure` mean in this practice, in seconds.

A time nobody entered is asked for; it is never guessed.
"""

from __future__ import annotations

from collections.abc import Mapping

from sidecue.clinical import sources
from sidecue.clinical.curing import FAR_MM, cure_findings, cure_seconds, irradiance_at
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, block, warn
from sidecue.procedure.case import Case
from sidecue.procedure.interlocks import CaseFacts
from sidecue.procedure.plan import Question, TimerSpec
from sidecue.procedure.practice import Material, Practice
from sidecue.procedure.practice_numbers import TARGET
from sidecue.procedure.schema import TimeRef, TimerEntry
from sidecue.procedure.time_order import orders_of
from sidecue.procedure.usual_times import time_findings
from sidecue.procedure.words import fill

COMPUTED_CURE = "computed.cure"
FURTHER_OFF = "light:distance"  # the question for a reading of the light


def floor_mm(case: Case, case_facts: CaseFacts) -> float | None:
    """Return how far from the light's tip the filling's floor lies, in mm: as the case says, or as
    deep as a class II cavity is, whose walls keep the tip out. None where it does not matter."""
    entry = case.entry
    if entry.tip_distance_mm is not None:
        return entry.tip_distance_mm
    return entry.depth_mm if "II" in case_facts.get("class", ()) else None


def light_at(practice: Practice, distance_mm: float | None) -> float | None:
    """Return the irradiance in mW/cm2 at a distance, by the light's own readings; at the tip where
    the practice has no others. Raises ClinicalError beyond the furthest reading."""
    at_tip = practice.irradiance
    if at_tip is None or distance_mm is None or not practice.light_at:
        return at_tip
    return float(irradiance_at({0: at_tip, **practice.light_at}, distance_mm))


class Times:
    """Resolves the times of one plan, and keeps what it had to ask and which products it used."""

    def __init__(
        self, practice: Practice, case_facts: CaseFacts, filling: str, floor: float | None = None
    ) -> None:
        self._practice = practice
        self._floor = floor
        self._facts = case_facts
        self._filling = filling
        self._used: dict[str, Material] = {}
        self._questions: dict[str, Question] = {}
        self._findings: list[Finding] = []
        if "polishing" not in case_facts.get("visit", ()):  # then nothing fresh is placed
            self.product(filling)

    @property
    def questions(self) -> tuple[Question, ...]:
        """What must be answered before these times are known."""
        return tuple(self._questions.values())

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Cautions about the light and about times that look unusual, and times that cannot be."""
        return tuple(dict.fromkeys(self._findings))

    @property
    def used(self) -> tuple[Material, ...]:
        """The products whose times were looked up."""
        return tuple(self._used.values())

    def product(self, role: str) -> Material | None:
        """Return the product for `role`, or ask which it is."""
        material = self._practice.material(role, self._facts)
        if material is None:
            words = role.replace("-", " ")
            self._ask(
                f"material:{role}",
                f"Which {words} product is used?",
                f"add a material with `role: {role}` to {self._practice.file}",
            )
        else:
            self._used[role] = material
        return material

    def number(self, name: str) -> float | None:
        """Return a number of the filling material, or ask for it."""
        material = self.product(self._filling)
        if material is None or name in material.numbers:
            return None if material is None else material.numbers[name]
        words = name.replace("-", " ")
        self._ask(
            f"material-number:{material.role}.{name}",
            f"What do the instructions of {material.product} give for {words}?",
            f"enter `{name}` under `numbers:` of {material.product} in {self._practice.file}",
        )
        return None

    def seconds(self, reference: TimeRef | None) -> float | None:
        """Return a time in seconds; None when there is none, or when it had to be asked for."""
        if reference is None or isinstance(reference, float):
            return reference
        if reference == COMPUTED_CURE:
            return self._cure()
        role, _, name = reference.partition(".")
        material = self.product(role)
        if material is None:
            return None
        time = material.times.get(name)
        if time is None:
            self._ask(
                f"material-time:{reference}",
                f"What is the {name.replace('-', ' ')} time of {material.product}?",
                f"enter `{name}` from its instructions under `times:` in {self._practice.file}",
            )
        else:
            self._findings += time_findings(reference, time, self._facts)
        return time

    def timer(self, entry: TimerEntry, words: Mapping[str, str]) -> TimerSpec:
        """Return the timer an entry describes, in seconds."""
        overdue = entry.overdue
        for order in orders_of(entry):
            early, late = self.seconds(order.earlier), self.seconds(order.later)
            if early is not None and late is not None and order.broken(early, late):
                text = f"{order.end!r} is {early:g} s and 'most' is {late:g} s, so {order.why}"
                self._findings.append(block(f"{text}; check the instructions", self._practice.file))
        return TimerSpec(
            name=fill(entry.timer, words),
            kind=entry.kind,
            least=self.seconds(entry.least),
            warn=self.seconds(entry.warn),
            most=self.seconds(entry.most),
            no_less_than=entry.no_less_than and fill(entry.no_less_than, words),
            source=self._source(entry),
            overdue_say="" if overdue is None else fill(overdue.say, words),
            overdue_voids=() if overdue is None else tuple(overdue.voids),
            overdue_back_to=None if overdue is None else overdue.back_to,
        )

    def _source(self, entry: TimerEntry) -> str:
        named = [ref for ref in (entry.least, entry.warn, entry.most) if isinstance(ref, str)]
        products = []
        for reference in dict.fromkeys(named):
            role = self._filling if reference == COMPUTED_CURE else reference.partition(".")[0]
            if role in self._used:
                products.append(f"{reference} of {self._used[role].product}")
        return "; ".join([*products, *([entry.source] if entry.source else [])])

    def _cure(self) -> float | None:
        """Seconds that give the filling its whole dose, never below its instructions."""
        target = self.number(TARGET)
        least = self.seconds(f"{self._filling}.cure")
        irradiance = self._irradiance()
        if self._practice.irradiance is None:
            self._ask(
                "light:irradiance",
                f"What does the meter read for {self._practice.light}, in mW/cm2?",
                f"enter `irradiance` under `light:` in {self._practice.file}",
            )
        if target is None or least is None or irradiance is None:
            return None
        seconds = max(float(cure_seconds(irradiance, target)), least)
        self._findings += cure_findings(irradiance, seconds, target)
        return seconds

    def _irradiance(self) -> float | None:
        """Return the irradiance where the filling is, warning where nobody measured it there."""
        floor, practice = self._floor, self._practice
        if floor is not None and floor >= FAR_MM and not practice.light_at:
            text = f"the floor is {floor:g} mm from the tip, the light was measured at the tip"
            lost = "; one light lost 15 % at 4 mm, another 71 %"
            self._findings.append(warn(text + lost, sources.LIGHT_DISTANCE))
        try:
            return light_at(practice, floor)
        except ClinicalError:
            self._ask(
                FURTHER_OFF,
                f"What does the meter read for {practice.light} at {floor:g} mm, in mW/cm2?",
                f"enter it under `at-mm:` of `light:` in {practice.file}",
            )
            return None

    def _ask(self, identifier: str, ask: str, mend: str) -> None:
        self._questions.setdefault(identifier, Question(identifier, ask, mend))
