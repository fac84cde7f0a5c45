"""Asking the machines of a family's plans: each thing once, the answer kept for all that is alike.

What an event reads is its key, and it is the whole of it:

- *own*: the current step's cues, the answers to a question and the clock read the step, the rest of
  the state and the facts named there (`Place.reading`), and change facts by the data of the step,
  the happening or the timer concerned. A change beyond those is an error here.
- *told* (a happening), *leaving* (pause, emergency) and *aside* (free cues, noise, a restart, a
  no, a value that settles nothing) read no fact and no timer: they open or close a question or
  change the mode, a `Shift`, which is the same beside any facts and timers.
- *out* (a skip, a jump): opens its question or is refused. That reads whether the step is begun,
  the timers that what is left out would end, and whether the facts allow it. The last is foreseen
  by another reading of the plan (`demands`); where the machine differs, that is a violation.
- *said*: what may be said reads the cues of the place and the kind of question. Of two cues with
  one phrase the first has it (`session.listening`), and later steps' cues come last: what is before
  them is asked with all that can be offered, they with one offer alone. Where a happening, a value
  or a general cue has a phrase of theirs, they too are asked with every offer (`Place.unsure`).

Every `audit`-th time that an answer is used again, the machine is asked again all the same, with
the state at hand: an answer that differs is a violation. With an audit of 1 nothing is ever reused
unasked; a benchmark does that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace

from sidecue.procedure.plan import Happening, Plan, Rule
from sidecue.proof.atlas import Atlas, Change, Key, Known, Shift
from sidecue.proof.moves import Kind
from sidecue.proof.outlook import Outlook
from sidecue.proof.places import Group, Leaving, Node, leaving_cues
from sidecue.proof.properties import Broken
from sidecue.proof.trying import Outcome, Trier
from sidecue.session.state import Asking, Mode, SessionState

#: Of so many answers used again, one is asked again.
AUDIT = 97

FORESEEN = "what may be left out is foreseen"
ASKED_AGAIN = "alike states answer alike"
#: Faults of the sharing itself: no walk of one plan shows them.
ALIKE = frozenset({FORESEEN, ASKED_AGAIN})

Answer = Callable[[Outlook, Trier, SessionState], Known]


class Asker:
    """Asks and remembers; `outlooks` has one for each of the plans given."""

    def __init__(
        self,
        given: Sequence[tuple[Plan, Sequence[Rule]]],
        outlooks: Sequence[Outlook],
        atlas: Atlas,
        audit: int = AUDIT,
    ) -> None:
        self.tried = 0
        self.audited = 0
        self._given, self._outlooks, self._atlas = given, outlooks, atlas
        self._machines: dict[int, Trier] = {}
        self._built = 0  # their plans, as bits
        self._audit = audit
        self._used = 0

    # -- what can be asked -----------------------------------------------------------------------

    def own(self, node: Node, plans: int, group: Group) -> Known:
        """Ask what the step's own cues, an answer and the clock do.

        Values and ended timers that none of these reads are left out when the machine is asked,
        and put back into what it answers.
        """
        read = node.place.reading(group, node.rest)
        key = ("own", group.number, node.rest, node.facts & read)
        known = self._atlas.known.get(key)
        if known is not None and not self._due():
            return known
        few = self._narrow(node, group)
        given = replace(node, rest=few)
        narrow = self._asked(("own", group.number, few, node.facts & read), given, plans,
                             self._own(read))  # fmt: skip
        wide = replace(narrow, changes=tuple(
            replace(each, raw=self._atlas.widened(each.raw, node.rest, few))
            for each in narrow.changes
        ))  # fmt: skip
        if known is None:
            known = self._atlas.known[key] = wide
            return known
        again = self._answered(node, plans, self._own(read), again=True)
        return self._audited(node, known, again, "own")

    def _narrow(self, node: Node, group: Group) -> int:
        asked = self._atlas.rests[node.rest].question
        if asked is not None and asked.about in (Asking.VALUE, Asking.STRIKE):
            return node.rest
        step = group.outlook.plan.steps[group.here]
        owed = frozenset(each.no_less_than for each in step.timers if each.no_less_than is not None)
        return self._atlas.narrow(node.rest, frozenset(step.asks), owed)

    def _own(self, read: int) -> Answer:
        def answer(look: Outlook, trier: Trier, state: SessionState) -> Known:
            cues = trier.cues(state).acting
            if state.question is None and state.mode is Mode.RUNNING:
                apart = {*look.happenings, *leaving_cues(look, look.plan.step_index[state.step])}
                cues = tuple(cue for cue in cues if cue.id not in apart)
            outcomes = list(trier.acting(state, cues))
            changes = (self._change(look, state, each, read) for each in outcomes)
            return _known(outcomes, changes=tuple(dict.fromkeys(changes)))

        return answer

    def said(
        self, node: Node, plans: int, group: Group | None, among: Key, ahead: bool = False
    ) -> Known:
        """Ask what may be said, and what is wrong with it; with `ahead`, also by which cues
        something can be left out. `among` is what else decides it."""
        key = ("said", None if group is None else group.number, *among)

        def answer(look: Outlook, trier: Trier, state: SessionState) -> Known:
            heard = frozenset[str]()
            if ahead:
                leaving = leaving_cues(look, look.plan.step_index[state.step])
                heard = frozenset(leaving).intersection(c.id for c in trier.cues(state).acting)
            return Known(broken=trier.wrong(state), heard=heard)

        return self._asked(key, node, plans, answer)

    def aside(self, node: Node, plans: int, group: Group) -> Known:
        """Ask what leaves the work as it is."""
        key = ("aside", group.number, self._atlas.places[node.rest])

        def answer(look: Outlook, trier: Trier, state: SessionState) -> Known:
            outcomes = list(trier.aside(state, trier.cues(state)))
            left_out = [each for each in outcomes if each.moves[0].given in trier.reasons]
            known = self._shifted(look, state, [each for each in outcomes if each not in left_out])
            return _with(known, left_out)  # these lead where the one that is followed leads

        return self._asked(key, node, plans, answer)

    def alarms(self, node: Node, plans: int, group: Group) -> Known:
        """Ask for every emergency."""
        key = ("alarms", group.number, self._atlas.rests[node.rest].mode)

        def answer(look: Outlook, trier: Trier, state: SessionState) -> Known:
            return self._shifted(look, state, trier.alarms(state, trier.cues(state)))

        return self._asked(key, node, plans, answer)

    def leaving(self, node: Node, plans: int, group: Group) -> Known:
        """Ask for a pause and for an emergency."""
        key = ("leaving", group.number, self._atlas.rests[node.rest].under_way)

        def answer(look: Outlook, trier: Trier, state: SessionState) -> Known:
            return self._shifted(look, state, trier.leaving(state, trier.cues(state)))

        return self._asked(key, node, plans, answer)

    def told(self, node: Node, plans: int, happening: Happening, number: int) -> Known:
        """Ask for a happening; `number` is that of the happening and of whether it leads back."""
        return self._asked(("told", number), node, plans, self._given_cue(happening.cue.id))

    def left(self, node: Node, plans: int, leaving: Leaving) -> Known:
        """Ask to leave out the step, or all up to a later one."""
        known = self._atlas.known.get(leaving.key)
        if known is not None and not self._due():
            return known
        answer = self._given_cue(leaving.cue, leaving.foreseen, leaving.timed)
        if known is None:
            return self._asked(leaving.key, node, plans, answer)
        return self._audited(node, known, self._answered(node, plans, answer, again=True), "left")

    # -- asking ----------------------------------------------------------------------------------

    def _asked(self, key: Key, node: Node, plans: int, answer: Answer) -> Known:
        known = self._atlas.known.get(key)
        if known is None:
            known = self._atlas.known[key] = self._answered(node, plans, answer)
            self.tried += known.tried
        elif self._due():
            again = self._answered(node, plans, answer, again=True)
            return self._audited(node, known, again, str(key[0]))
        return known

    def _due(self) -> bool:
        """Return whether an answer used again is to be asked again, this time."""
        self._used += 1
        return self._used % self._audit == 0

    def _audited(self, node: Node, known: Known, again: Known, kind: str) -> Known:
        """Return what is known, or the fault when what is answered now differs from it."""
        self.audited += 1
        if _alike(known, again):
            return known
        what = f"at {node.place.step!r}: {_difference(kind, known, again)}"
        return Known(broken=(Broken(ASKED_AGAIN, what),))

    def _answered(self, node: Node, plans: int, answer: Answer, again: bool = False) -> Known:
        """Ask the machine of one of `plans`, one that is built already where there is one; when
        asked `again`, preferably another than before."""
        some = plans & self._built or plans
        if again and self._audit == 1:
            some = plans
        one = some.bit_length() - 1 if again else (some & -some).bit_length() - 1
        if one not in self._machines:
            self._machines[one] = Trier(*self._given[one], self._outlooks[one].abstraction)
            self._built |= 1 << one
        state = self._atlas.state(node.rest, node.place.step, node.facts)
        return answer(self._outlooks[one], self._machines[one], state)

    def _given_cue(self, cue: str, foreseen: int = -1, timed: bool = False) -> Answer:
        def answer(look: Outlook, trier: Trier, state: SessionState) -> Known:
            cues = [each for each in trier.cues(state).acting if each.id == cue]
            outcomes = list(trier.given(state, cues))
            known = self._shifted(look, state, outcomes)
            if foreseen < 0:
                return known
            unlike = tuple(_unforeseen(outcomes, refused=not foreseen, timed=timed))
            return replace(known, broken=(*known.broken, *unlike))

        return answer

    def _change(self, look: Outlook, state: SessionState, outcome: Outcome, read: int) -> Change:
        after, bits = outcome.after, self._atlas.bits
        gained, lost = bits.of(after.facts - state.facts), bits.of(state.facts - after.facts)
        if (gained | lost) & ~read:
            told = ", ".join(sorted(bits.facts((gained | lost) & ~read)))
            raise AssertionError(f"at {state.step!r}, {told} changed from out of what is read")
        step = None if after.step == state.step else after.step
        return Change(self._atlas.raw(after, look.about(after)), step, gained, lost)

    def _shifted(self, look: Outlook, state: SessionState, outcomes: Iterable[Outcome]) -> Known:
        outcomes = list(outcomes)
        shifts: dict[int, None] = {}
        for outcome in outcomes:
            after = outcome.after
            if _work(after) != _work(state):
                told = outcome.moves[0].told()
                raise AssertionError(f"at {state.step!r}, {told}: more than a question or a mode")
            if _stance(after) != _stance(state):
                shift = Shift(after.mode, after.question, after.emergency, look.about(after))
                shifts[self._atlas.shift(shift)] = None
        return _known(outcomes, shifts=tuple(shifts))


def _with(known: Known, others: Sequence[Outcome]) -> Known:
    """Return `known` with what `others` broke, which nothing follows."""
    broken = [each for outcome in others for each in outcome.broken]
    return replace(
        known, tried=known.tried + len(others),
        broken=tuple(dict.fromkeys((*known.broken, *broken))),
    )  # fmt: skip


def _known(
    outcomes: Sequence[Outcome], changes: tuple[Change, ...] = (), shifts: tuple[int, ...] = ()
) -> Known:
    return Known(
        changes, shifts, len(outcomes),
        tuple(dict.fromkeys(each for outcome in outcomes for each in outcome.broken)),
        any(outcome.done for outcome in outcomes),
    )  # fmt: skip


def _work(state: SessionState) -> tuple[object, ...]:
    """Return what a shift leaves as it is (timers may have rung before it)."""
    return state.step, state.under_way, state.facts, state.standing


def _stance(state: SessionState) -> tuple[object, ...]:
    """Return what a shift changes."""
    asked = state.question
    return state.mode, state.emergency, asked and (asked.about, asked.target, asked.cue)


def _unforeseen(outcomes: Iterable[Outcome], *, refused: bool, timed: bool) -> Iterator[Broken]:
    """Yield where the machine's refusals are not those that the plan's demands foresee; a timer may
    hold what the facts allow."""
    for outcome in outcomes:
        move = outcome.moves[0]
        if len(outcome.moves) > 1 or move.kind is not Kind.CUE or move.cue is None:
            continue
        if outcome.refused != refused and not (outcome.refused and timed):
            what = f"{move.cue.id} is {'' if outcome.refused else 'not '}refused"
            yield Broken(FORESEEN, what)


def _alike(one: Known, other: Known) -> bool:
    return (
        set(one.changes) == set(other.changes)
        and set(one.shifts) == set(other.shifts)
        and set(one.broken) == set(other.broken)
        and (one.tried, one.done, one.heard) == (other.tried, other.done, other.heard)
    )


def _difference(kind: str, one: Known, other: Known) -> str:
    if set(one.broken) != set(other.broken):
        return f"{kind}: another fault"
    if one.tried != other.tried:
        return f"{kind}: {one.tried} and {other.tried} things can happen"
    return f"{kind}: another state after it"
