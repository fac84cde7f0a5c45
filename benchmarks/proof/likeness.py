"""Whether a damaged plan can be told from the sound one by anything that can happen in a visit.

A damage that changes nothing is no miss: a need that an interlock holds the step to anyway, a fact
that no step, interlock, happening or advice reads. Three tests say so, none knows what was damaged:

- *refusing alike*: the plans differ in needs of steps alone. Needs are read where a step is entered
  and where something before it is left out, nowhere else (a step that hands the advice over is left
  to the next test: its needs tell when the advice may be read). Every state of the damaged plan is
  walked; where what both plans ask of the facts is met or not met alike in each, for the step at
  hand and for whatever can be left out, the machine refuses the same, and by induction all is the
  same.
- *side by side*: both plans are walked in lockstep by the plain way, from the start, through every
  event of the proof. They are alike when in every pair of states that can be reached the same may
  be said, the same is refused, and step, mode, question, timers and the facts gained (the note of
  the visit lists them) are the same afterwards, and so are those lost that the advice reads. What
  else is lost is no difference where no decision reads it.
- *in either order*: two steps may change places when neither brings about, ends or
  stops anything that the other needs, brings about, ends or times, no interlock or law names
  something of the one beside something of the other, and nothing leads back to either. Then both
  orders lead from the same facts and timers to the same, and every rule holds in either.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import replace

from sidecue.procedure.interlocks import matches
from sidecue.procedure.plan import Cue, Plan, Rule, Step
from sidecue.proof.atlas import Atlas
from sidecue.proof.demands import demands, entry
from sidecue.proof.family import Family
from sidecue.proof.laws import beside, laws
from sidecue.proof.moves import Cues, Move
from sidecue.proof.trying import Outcome, Trier
from sidecue.session.advising import ADVICE_SHEET
from sidecue.session.listening import ahead_of, watched
from sidecue.session.state import Mode, SessionState

Seen = tuple[object, ...]
Pair = tuple[SessionState, SessionState]


class SideBySide:
    """Two plans in lockstep. What either reads, the forms of both keep."""

    def __init__(self, one: Plan, other: Plan, rules: Iterable[Rule]) -> None:
        held_to = (*rules, *_reading(one), *_reading(other))
        self._triers = Trier(one, held_to), Trier(other, held_to)
        self._told = frozenset(fact for advice in one.advice for fact in advice.after)
        self._ahead = [
            {
                cue.id: number
                for number, step in enumerate(trier.plan.steps)
                for cue in (step.begin, step.done)
                if cue is not None
            }
            for trier in self._triers
        ]
        self._refused: set[Seen] = set()
        self.pairs = 0

    def difference(self) -> str | None:
        """Walk all pairs of states; return the first difference in words, or None."""
        first = self._triers[0].started(), self._triers[1].started()
        known = {self._forms(*first)}
        left = deque([first])
        while left:
            pair = left.popleft()
            self.pairs += 1
            if pair[0].mode is Mode.FINISHED:
                continue
            unlike, following = self._followed(pair)
            if unlike is not None:
                return f"at {pair[0].step!r}, {unlike}"
            for after in following:
                forms = self._forms(*after)
                if forms not in known:
                    known.add(forms)
                    left.append(self._standing(*after))
        return None

    def _forms(self, one: SessionState, other: SessionState) -> Seen:
        first, second = self._triers
        return first.abstraction.form_of(one), second.abstraction.form_of(other)

    def _standing(self, one: SessionState, other: SessionState) -> Pair:
        first, second = self._triers
        return first.abstraction.standing_form(one), second.abstraction.standing_form(other)

    def _followed(self, pair: Pair) -> tuple[str | None, list[Pair]]:
        heard = [trier.cues(state) for trier, state in zip(self._triers, pair, strict=True)]
        if _ids(heard[0]) != _ids(heard[1]):
            apart = min(_ids(heard[0]) ^ _ids(heard[1]))
            return f"only one hears {apart!r}", []
        answers = [self._answers(n, pair, heard[n]) for n in (0, 1)]
        if answers[0].keys() != answers[1].keys():
            return "one can go on where the other cannot", []
        following: list[Pair] = []
        for moves, one in answers[0].items():
            other = answers[1][moves]
            if one.refused != other.refused:
                return f"only one refuses: {moves[0].told()}", []
            if self._shown(0, pair[0], one) != self._shown(1, pair[1], other):
                return f"{moves[-1].told()} leads elsewhere", []
            cue = moves[0].cue
            if one.refused and cue is not None and cue.id in self._ahead[0]:
                self._refused.add(self._refusal(pair, cue.id))
            following.append((one.after, other.after))
        return None, following

    def _answers(self, number: int, pair: Pair, heard: Cues) -> dict[tuple[Move, ...], Outcome]:
        trier, state = self._triers[number], pair[number]
        wanted = [cue for cue in heard.acting if not self._known_refusal(pair, cue)]
        outcomes = [*trier.acting(state, wanted)]
        if state.mode is Mode.RUNNING and state.question is None:
            outcomes += trier.leaving(state, heard)
        return {each.moves: each for each in outcomes}

    def _known_refusal(self, pair: Pair, cue: Cue) -> bool:
        state = pair[0]
        if cue.id not in self._ahead[0] or state.question is not None:
            return False
        if state.mode is not Mode.RUNNING or cue.id.startswith(f"{state.step}."):
            return False
        return self._refusal(pair, cue.id) in self._refused

    def _refusal(self, pair: Pair, cue: str) -> Seen:
        found: list[object] = [cue]
        for number, state in enumerate(pair):
            begun = state.under_way or state.standing is not None
            timers = tuple((t.spec.name, t.ripe, t.overdue) for t in state.timers)
            forms = self._triers[number].abstraction
            read = forms.read_from(self._ahead[number][cue])
            found.append((begun, (begun or timers) and state.step, timers, state.facts & read))
        return tuple(found)

    def _shown(self, number: int, before: SessionState, outcome: Outcome) -> Seen:
        """Return what can be seen of a state by who works with it."""
        state = outcome.after
        counts = self._triers[number].abstraction.counts
        asked = state.question
        return (
            state.mode, state.step, state.under_way, state.standing, outcome.done,
            asked and (asked.about, asked.target, asked.cue),
            state.facts - before.facts,
            frozenset((before.facts - state.facts) & self._told),
            frozenset(
                (t.spec.name, t.step, t.ripe, t.overdue, t.spec.kind, t.least is None)
                for t in state.timers if counts(t.spec)
            ),
        )  # fmt: skip


def _reading(plan: Plan) -> Iterator[Rule]:
    """Yield, as interlocks, what the steps of `plan` need, so that forms keep it."""
    for step in plan.steps:
        for fact in (*step.establishes, *step.begin_establishes):
            name = f"need of {step.id} for {fact}: {' '.join(step.needs)}"
            yield Rule(name, "", "", act=fact, needs=step.needs)


def _ids(cues: Cues) -> frozenset[str]:
    return frozenset(cue.id for some in (cues.acting, cues.aside) for cue in some)


def needs_alone(sound: Plan, damaged: Plan) -> bool:
    """Return whether the plans differ in needs of steps alone, and none hands the advice over."""
    same = replace(damaged, steps=sound.steps) == sound and len(sound.steps) == len(damaged.steps)
    return same and all(
        one == other or (replace(one, needs=other.needs) == other and ADVICE_SHEET not in one.hand)
        for one, other in zip(sound.steps, damaged.steps, strict=True)
    )


def refusing_alike(sound: Plan, damaged: Plan, rules: Iterable[Rule], atlas: Atlas) -> str:
    """Return where two plans that differ in needs alone do not refuse alike, in words; empty when
    they do in every state."""
    held_to = (*rules, *_reading(sound))
    family = Family([damaged], [held_to], atlas)
    family.walk()
    case = dict(sound.case_facts)
    interlocks = [rule for rule in sound.rules if matches(rule.when, case)]
    ahead = [demands(plan, atlas.bits) for plan in (sound, damaged)]
    entries = [
        [entry(step, interlocks, atlas.bits) for step in plan.steps] for plan in (sound, damaged)
    ]
    watch = watched(sound)
    for step, facts, stands in family.working(0):
        here = sound.step_index[step]
        asked, now = (each[here].met(facts) for each in entries)
        if not stands and asked != now:  # what stands is not asked for its needs again
            return f"at {step!r}, only one refuses the step itself"
        for there in (here + 1, *ahead_of(here, watch, len(sound.steps))):
            if ahead[0][there].met(facts) != ahead[1][there].met(facts):
                return f"at {step!r}, only one refuses what comes before step {there + 1}"
    return ""


def exchanged(one: Plan, other: Plan) -> Iterator[tuple[Step, Step]]:
    """Yield each two steps of `one` that stand in the other order in `other`."""
    place = {step.id: number for number, step in enumerate(other.steps)}
    for here, step in enumerate(one.steps):
        for later in one.steps[here + 1 :]:
            if place[later.id] < place[step.id]:
                yield step, later


def in_either_order(plan: Plan, one: Step, other: Step) -> bool:
    """Return whether two steps of `plan` may change places without a difference."""
    return not any(_concern(plan, *each) for each in ((one, other), (other, one)))


def _concern(plan: Plan, one: Step, other: Step) -> bool:
    """Whether `other` reads or changes anything that `one` changes, or a rule names both."""
    changed = _changed(one)
    if changed & (_changed(other) | set(other.needs)):
        return True
    if _timers(one) & (_timers(other) | set(other.stops) | set(other.done_stops)):
        return True
    if any(h.back_to in (one.id, other.id) for h in plan.happenings):
        return True
    if any(t.overdue_back_to in (one.id, other.id) for s in plan.steps for t in s.timers):
        return True
    for rule in (*plan.rules, *beside(plan)):
        named = {*rule.needs, *rule.never, *((rule.act,) if rule.act else ())}
        if named & _changed(one) and named & _changed(other):
            return True
    return any(
        {law.fact, *law.takes} & _changed(one) and {law.fact, *law.takes} & _changed(other)
        for law in laws().used_up
    )


def _changed(step: Step) -> set[str]:
    spoilt = {fact for timer in step.timers for fact in timer.overdue_voids}
    return {*step.establishes, *step.begin_establishes, *step.voids, *step.begin_voids, *spoilt}


def _timers(step: Step) -> set[str]:
    return {timer.name for timer in step.timers}
