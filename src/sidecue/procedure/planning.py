"""Planning: a procedure, a case and a practice become a Plan. Pure; reads no file and no clock.

What the plan cannot know it asks (`Plan.questions`), what must not be it refuses
(`Plan.blocks`), each with who says so. A plan with either cannot be started, but is complete
enough to be read.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from math import prod

from sidecue.procedure.appraisal import Appraisal, appraise
from sidecue.procedure.case import Case
from sidecue.procedure.case_facts import case_facts
from sidecue.procedure.case_words import case_line, words_of
from sidecue.procedure.expansion import Expanded, applies, expand
from sidecue.procedure.fitting import fits_of, misfits, none_fits
from sidecue.procedure.interlocks import CaseFacts, matches
from sidecue.procedure.layering import layers_at_the_gum, rounds_of
from sidecue.procedure.laying import tray_of
from sidecue.procedure.library import Library, match_of
from sidecue.procedure.plan import (
    Advice,
    Caution,
    Cue,
    Emergency,
    Fact,
    Happening,
    Notice,
    Plan,
    Rule,
    Slot,
    Step,
    Tier,
)
from sidecue.procedure.practice import Material as Product
from sidecue.procedure.practice import Practice
from sidecue.procedure.preferences import OWN_FILE, kept_steps, unmet, worded
from sidecue.procedure.schema import HandChoice, HappeningEntry, Identifier
from sidecue.procedure.setup import preparations
from sidecue.procedure.slots import count_of, near_values, slots_of
from sidecue.procedure.stock import cartridges_for, plan_materials
from sidecue.procedure.timing import Times, floor_mm
from sidecue.procedure.words import fill

_OWN_CHECK = "the interlocks of this library"


class PlanError(ValueError):
    """No plan can be made; the message is one line and says what to change."""


def choose_procedure(library: Library, case: Case, practice: Practice) -> str:
    """Return the id of the visit that fits the case best: the one that names most about it.

    A visit whose `fits:` does not say otherwise is for placing. Of two that name as much, the one
    for fewer kinds of case fits better. Raises PlanError when none fits, telling what the material
    is placed in, or when two fit equally well.
    """
    facts = case_facts(case, practice)
    known = {key: values for key, values in facts.items() if values or case.cavity is not None}
    fitting: list[tuple[tuple[int, int], str]] = []
    for name in library.visits:
        fits = fits_of(library, name)
        asked = {key: values for key, values in fits.items() if key in known}
        if matches(match_of(asked), known):
            kinds = prod(len(values) for values in asked.values())
            fitting.append(((len(asked), -kinds), name))
    if not fitting:
        raise PlanError(none_fits(library, case, facts))
    most = max(rank for rank, _ in fitting)
    best = [name for rank, name in fitting if rank == most]
    if len(best) > 1 and case.cavity is not None:
        raise PlanError(f"{case_line(case)} fits {' and '.join(best)}: name one of them")
    return best[0]


def plan(
    library: Library,
    procedure: str,
    case: Case,
    practice: Practice,
    today: date | None = None,
) -> Plan:
    """Return the plan of `procedure` for `case` in `practice`.

    Lots are judged by the day of the case, or by `today` when the case names none. Raises
    PlanError for a procedure the library does not have.
    """
    if procedure not in library.visits:
        names = ", ".join(library.visits)
        raise PlanError(f"there is no procedure {procedure!r}: use one of {names}")
    facts = case_facts(case, practice)
    found = appraise(case, practice, facts, library.clashes)
    misfit = tuple(misfits(library, procedure, case, facts))
    found.take(misfit)
    empty = _without_steps(library, procedure, case, practice, facts)
    if case.tooth is None:
        return replace(
            empty,
            blocks=tuple(found.blocks),
            warnings=tuple(found.warnings),
            questions=tuple(found.questions),
        )
    times = Times(practice, facts, case.entry.material, floor_mm(case, facts))
    expansion = expand(library.procedures, procedure, facts, 1)
    rounds = rounds_of(case, times, found, repeats=expansion.repeats)
    layers = rounds if expansion.repeats else layers_at_the_gum(case, facts, times, found)
    prepared = preparations(case, practice, facts, layers)
    if rounds > 1:
        expansion = expand(library.procedures, procedure, facts, rounds)
    kept = kept_steps(expansion.steps, practice, library.rules, facts, found)
    gained = {fact for each in kept for fact in each.entry.establishes}
    draft = _Draft(library, practice, facts, words_of(case, gained), times, found)
    steps = draft.steps(kept)
    happenings = draft.happenings(expansion.happenings, steps)
    for problem in () if misfit else unmet(kept, library.rules, facts):
        found.block(Notice(f"the procedure itself is unsound: {problem}", _OWN_CHECK))
    found.take(times.findings)
    on = case.on or today
    cartridges = _cartridges(case, practice, on)
    materials, lots = plan_materials((*times.used, *cartridges), on)
    found.take(lots)
    slots = slots_of((name for step in steps for name in step.asks), case, practice)
    steps = _asking(steps, slots)
    return replace(
        empty,
        steps=steps,
        happenings=happenings,
        emergencies=draft.emergencies(),
        rules=draft.rules(empty.rules),
        facts=_facts_of(library, steps, happenings),
        cautions=draft.cautions(steps),
        tray=tray_of(library, steps, case),
        materials=materials,
        warnings=tuple(found.warnings),
        blocks=tuple(found.blocks),
        questions=(*found.questions, *times.questions),
        advice=draft.advice(steps),
        slots=slots,
        anaesthetic=count_of(case, practice),
        decoys=(*library.decoys, *near_values(slots, practice)),
        preparations=prepared,
    )


def _without_steps(
    library: Library, procedure: str, case: Case, practice: Practice, facts: CaseFacts
) -> Plan:
    """Return everything of the plan that does not depend on its steps."""
    spoken = case.entry.tooth if case.tooth is None else case.tooth.spoken_full_in(case.notation)
    return Plan(
        procedure=procedure,
        title=library.visit(procedure).title,
        practice=practice.name,
        tooth_spoken=spoken,
        case_line=case_line(case),
        case_facts=tuple(facts.items()),
        steps=(),
        happenings=(),
        emergencies=library.emergencies,
        cues=library.cues,
        skip_reasons=library.skip_reasons,
        address=practice.address or library.address,
        facts=(),
        rules=tuple(rule for rule in library.rules if matches(rule.when, facts)),
        cautions=(),
        tray=(),
        materials=(),
        decoys=library.decoys,
        pronunciations=library.pronunciations,
        prompts=library.prompts,
    )


def _cartridges(case: Case, practice: Practice, on: date | None) -> tuple[Product, ...]:
    """Return the drawer's cartridges for this case; none where nothing is injected."""
    if case.drug is None or case.entry.visit != "placing":
        return ()
    return cartridges_for(practice.cartridges, case.entry.anaesthetic, case.drug, on)


class _Draft:
    """Turns entries into the parts of one plan, filling in words and times."""

    def __init__(
        self,
        library: Library,
        practice: Practice,
        facts: CaseFacts,
        words: Mapping[str, str],
        times: Times,
        found: Appraisal,
    ) -> None:
        self._library = library
        self._practice = practice
        self._facts = facts
        self._words = words
        self._times = times
        self._found = found

    def steps(self, kept: Sequence[Expanded]) -> tuple[Step, ...]:
        """Return the steps, each with an id of its own."""
        taken: Counter[str] = Counter()
        steps = []
        for each in kept:
            name = fill(each.entry.step, each.round_words)
            if each.round_words and name == each.entry.step:
                name = f"{name}-{each.round_words['n']}"
            taken[name] += 1
            steps.append(self._step(each, name if taken[name] == 1 else f"{name}-{taken[name]}"))
        return tuple(steps)

    def _step(self, each: Expanded, name: str) -> Step:
        entry, begin = each.entry, each.entry.begin
        words = {**self._words, **each.round_words}
        say = fill(worded(entry, self._practice, self._found), words)
        return Step(
            id=name,
            part=each.part,
            say=say,
            why=fill(entry.why, words),
            done=self._cue(f"{name}.done", entry.cue, words, say, guarded=entry.guarded),
            begin=None if begin is None else self._cue(f"{name}.begin", begin.cue, words, say),
            hand=tuple(dict.fromkeys(self._hand(entry.hand))),
            cautions=tuple(entry.caution),
            needs=tuple(entry.needs),
            establishes=tuple(entry.establishes),
            voids=tuple(entry.voids),
            begin_establishes=() if begin is None else tuple(begin.establishes),
            begin_voids=() if begin is None else tuple(begin.voids),
            timers=tuple(self._times.timer(timer, words) for timer in entry.timers),
            stops=tuple(fill(stop, words) for stop in entry.stops),
            done_stops=tuple(fill(stop, words) for stop in entry.done_stops),
            optional=entry.optional,
            asks=tuple(entry.asks),
            settles=entry.settles,
            closes=tuple(entry.closes),
            lay=tuple(dict.fromkeys(self._hand(entry.lay))),
        )

    def _cue(
        self,
        name: str,
        phrases: Sequence[str],
        words: Mapping[str, str],
        say: str,
        *,
        guarded: bool = False,
    ) -> Cue:
        spoken = tuple(dict.fromkeys(fill(phrase, words) for phrase in phrases))
        means = f"{'begun' if name.endswith('.begin') else 'done'}: {say}"
        return Cue(name, spoken, Tier.GUARDED if guarded else Tier.ADVANCE, means)

    def _hand(self, entries: Iterable[Identifier | HandChoice]) -> Iterable[str]:
        for entry in entries:
            if isinstance(entry, HandChoice):
                if not applies(entry.when, entry.unless, self._facts):
                    continue
                entry = entry.use  # noqa: PLW2901 - the choice is made, its instrument remains
            favourite = self._practice.instead.get(entry, entry)
            if favourite not in self._library.instruments:
                text = f"instead: instrument {favourite!r} is not known"
                self._found.block(Notice(text, OWN_FILE))
                favourite = entry
            yield favourite

    def happenings(
        self, entries: Iterable[HappeningEntry], steps: Sequence[Step]
    ) -> tuple[Happening, ...]:
        """Return the happenings that can come up in these steps."""
        present = {step.id for step in steps}
        gained = {f for step in steps for f in (*step.begin_establishes, *step.establishes)}
        happenings = []
        for entry in entries:
            if gained.isdisjoint(entry.while_any):
                continue
            if entry.back_to not in present:
                text = f"happening {entry.happening!r} goes back to {entry.back_to!r}, left out"
                self._found.block(Notice(text, _OWN_CHECK))
                continue
            phrases = tuple(fill(phrase, self._words) for phrase in entry.heard)
            cue = Cue(f"happening.{entry.happening}", phrases, Tier.GUARDED, entry.means)
            happenings.append(
                Happening(
                    cue=cue,
                    say=fill(entry.say, self._words),
                    voids=tuple(entry.voids),
                    back_to=entry.back_to,
                    while_any=tuple(entry.while_any),
                    unless=tuple(entry.unless),
                )
            )
        return tuple(happenings)

    def emergencies(self) -> tuple[Emergency, ...]:
        """Return the emergencies, their lines filled in."""
        return tuple(
            replace(each, says=tuple(fill(line, self._words) for line in each.says))
            if any("{" in line for line in each.says)
            else each
            for each in self._library.emergencies
        )

    def rules(self, rules: Sequence[Rule]) -> tuple[Rule, ...]:
        """Return the interlocks that apply, their refusals filled in."""
        return tuple(
            replace(rule, say=fill(rule.say, self._words)) if "{" in rule.say else rule
            for rule in rules
        )

    def cautions(self, steps: Sequence[Step]) -> tuple[Caution, ...]:
        """Return the cautions these steps name, in order of first use."""
        names = dict.fromkeys(name for step in steps for name in step.cautions)
        found = (self._library.cautions[name] for name in names)
        return tuple(
            replace(each, say=fill(each.say, self._words), text=fill(each.text, self._words))
            if "{" in each.say + each.text
            else each
            for each in found
        )

    def advice(self, steps: Sequence[Step]) -> tuple[Advice, ...]:
        """Return the patient's advice that may follow from these steps."""
        gained = {f for step in steps for f in (*step.begin_establishes, *step.establishes)}
        return tuple(
            Advice(fill(entry.say, self._words), entry.source, tuple(entry.after))
            for entry in self._library.advice
            if applies(entry.when, entry.unless, self._facts) and gained.issuperset(entry.after)
        )


def _asking(steps: Sequence[Step], slots: Iterable[Slot]) -> tuple[Step, ...]:
    """Return the steps, each asking only for what has something to be said."""
    known = {slot.id for slot in slots}
    asked = [(step, tuple(name for name in step.asks if name in known)) for step in steps]
    return tuple(
        step if a == step.asks else replace(step, asks=a, settles=step.settles and bool(a))
        for step, a in asked
    )


def _facts_of(
    library: Library, steps: Sequence[Step], happenings: Sequence[Happening]
) -> tuple[Fact, ...]:
    """Return every fact the steps, happenings and interlocks speak of."""
    named: set[str] = set()
    for step in steps:
        named.update(step.needs, step.establishes, step.voids)
        named.update(step.begin_establishes, step.begin_voids)
        for timer in step.timers:
            named.update(timer.overdue_voids)
    for happening in happenings:
        named.update(happening.voids, happening.while_any, happening.unless)
    for rule in library.rules:
        named.update(rule.needs, rule.never, () if rule.act is None else (rule.act,))
    return tuple(fact for name, fact in library.facts.items() if name in named)
