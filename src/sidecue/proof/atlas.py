"""What is known of each thing that can happen, shared between states and plans of one library."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from sidecue.procedure.plan import Happening
from sidecue.proof.abstraction import Abstraction
from sidecue.proof.demands import Bits
from sidecue.proof.moves import place_of
from sidecue.proof.properties import Broken
from sidecue.session.state import Mode, Question, RunningTimer, SessionState

Key = tuple[object, ...]
Found = TypeVar("Found")
#: What of the plan an answer to a question will read: the happening, and whether it leads back.
About = tuple[Happening, bool] | None
#: Timers that lead back once they pass, and whether that is back from a place.
Leads = tuple[tuple[str, bool], ...]


@dataclass(frozen=True, slots=True)
class Change:
    """What something does: facts gained and lost, as bits; the step it leads to, when it is
    another; and the rest of the state after it, by its number in the atlas."""

    raw: int
    step: str | None
    gained: int
    lost: int


@dataclass(frozen=True, slots=True)
class Shift:
    """What something does that leaves the work as it is: mode, question and emergency after it."""

    mode: Mode
    question: Question | None
    emergency: str | None
    about: About


@dataclass(frozen=True, slots=True)
class Known:
    """What the machine answered: the changes, each kind once, or the shifts, by number; how many
    things were tried, what was broken, whether the step can be done; and the acting cues that are
    heard, where that was asked."""

    changes: tuple[Change, ...] = ()
    shifts: tuple[int, ...] = ()
    tried: int = 0
    broken: tuple[Broken, ...] = ()
    done: bool = False
    heard: frozenset[str] = frozenset()


class Atlas:
    """Whatever is told apart by number, and what is known of it. For one library's plans only.

    A *rest* is a state without its step and facts, brought to its standing form; a *raw* one is as
    the machine gave it. Beside the state it is told apart by what of the plan an answer to its
    question will read.
    """

    def __init__(self) -> None:
        self.bits = Bits()
        self.known: dict[Key, Known] = {}
        self.measured: set[Hashable] = set()  # words: see `wordiness`
        self.rests: list[SessionState] = []
        self.abouts: list[About] = []  # for each rest, what its question is about
        self.besides: list[int] = []  # and the number of all that a pause keeps of it
        self.strikes: list[tuple[str, ...]] = []  # the slots that an entry stands in
        self.places: list[int] = []  # the number of its place (`moves.place_of`), but for the step
        self.clocks: list[int] = []  # and that of its timers
        self.signs: list[tuple[tuple[int, int], ...]] = []  # each timer's name as a bit, its number
        self._raws: list[tuple[SessionState, About]] = []
        self._numbers: dict[Hashable, int] = {}
        self._worked_out: dict[Hashable, Any] = {}
        self._shifts: dict[int, Shift] = {}
        self._shifted: dict[tuple[int, int, str], int] = {}
        self._raw_of: dict[Key, int] = {}
        self._rest_of: dict[Key, int] = {}
        self._rest_known: dict[tuple[int, int], int] = {}
        self._leads: list[Leads] = []  # and which of its timers lead back, and whether from there
        self._narrowed: dict[tuple[int, frozenset[str], frozenset[str]], int] = {}
        self._widened: dict[tuple[int, int, int], int] = {}

    def number(self, thing: Hashable) -> int:
        """Return the number of `thing`: the same for equal ones."""
        return self._numbers.setdefault(thing, len(self._numbers))

    def same(self, thing: Found) -> Found:
        """Return the one object that stands for all that are equal to `thing`."""
        found: Found = self._worked_out.setdefault(thing, thing)
        return found

    def once(self, key: Hashable, work_out: Callable[[], Found]) -> Found:
        """Return what `work_out` returns, asked but once for each `key`."""
        if key not in self._worked_out:
            self._worked_out[key] = work_out()
        found: Found = self._worked_out[key]
        return found

    def shift(self, to: Shift) -> int:
        """Return the number of a shift: the same whatever words its question is put in."""
        number = self.number((to.mode, _asked(to.question), to.emergency, to.about))
        self._shifts.setdefault(number, to)
        return number

    def state(self, rest: int, step: str, facts: int) -> SessionState:
        """Return a whole state of its parts."""
        return replace(self.rests[rest], step=step, facts=self.bits.facts(facts))

    def shifted(self, rest: int, shift: int, step: str) -> int:
        """Return the raw number of what shift number `shift` makes of a rest at `step`."""
        known = self._shifted.get((rest, shift, step))
        if known is None:
            to = self._shifts[shift]
            state = replace(self.rests[rest], step=step, mode=to.mode, question=to.question,
                            emergency=to.emergency)  # fmt: skip
            known = self._shifted[rest, shift, step] = self.raw(state, to.about)
        return known

    def raw(self, state: SessionState, about: About = None) -> int:
        """Return the number of a state without its facts, as the machine gave it."""
        timers = tuple(sign(timer) for timer in state.timers)
        key = (*_apart(state), state.step, timers, about)
        known = self._raw_of.get(key)
        if known is None:
            known = self._raw_of[key] = len(self._raws)
            bare = replace(state, facts=frozenset(), history=(), skips=(), done=())
            self._raws.append((bare, about))
        return known

    def rest(self, raw: int, forms: int, abstraction: Abstraction, leads: Leads) -> int:
        """Return the number of what a form keeps of a raw state beside its facts, in plans whose
        number for forms is `forms` (`Outlook.forms`); `leads` tells which timers lead back."""
        known = self._rest_known.get((raw, forms))
        if known is None:
            state, about = self._raws[raw]
            form = abstraction.standing_form(state)
            known = self._rest_known[raw, forms] = self._rest(form, about, leads)
        return known

    def _rest(self, form: SessionState, about: About, leads: Leads) -> int:
        led = tuple(each for each in leads if any(t.spec.name == each[0] for t in form.timers))
        values = tuple((value.slot, value.value) for value in form.values)
        key = (*_apart(form), values, form.timers, about, led)
        known = self._rest_of.get(key)
        if known is None:
            known = self._rest_of[key] = len(self.rests)
            self.rests.append(form)
            self.abouts.append(about)
            asked = _asked(form.question)
            self.besides.append(self.number((form.mode, form.under_way, asked, about, form.timers)))
            self.strikes.append(tuple(value.slot for value in form.values))
            self.places.append(self.number(place_of(form)[1:]))
            self.clocks.append(self.number(form.timers))
            self.signs.append(tuple(
                (self.bits.of((each.spec.name,)), self.number(sign(each))) for each in form.timers
            ))  # fmt: skip
            self._leads.append(led)
        return known

    def narrow(self, rest: int, slots: frozenset[str], names: frozenset[str]) -> int:
        """Return the number of a rest with no values but of `slots`, nothing kept but `names`."""
        known = self._narrowed.get((rest, slots, names))
        if known is None:
            form = self.rests[rest]
            few = replace(
                form,
                values=tuple(value for value in form.values if value.slot in slots),
                kept=tuple(timer for timer in form.kept if timer.name in names),
            )
            known = self._rest(few, self.abouts[rest], self._leads[rest])
            self._narrowed[rest, slots, names] = known
        return known

    def widened(self, raw: int, rest: int, few: int) -> int:
        """Return the raw number of what `raw` is for rest number `rest`, when it is what became of
        the narrower rest `few`: what that lacks is added."""
        if rest == few:
            return raw
        known = self._widened.get((raw, rest, few))
        if known is None:
            (state, about), full, less = self._raws[raw], self.rests[rest], self.rests[few]
            wide = replace(
                state,
                values=(*(v for v in full.values if v not in less.values), *state.values),
                kept=(*(t for t in full.kept if t not in less.kept), *state.kept),
            )
            known = self._widened[raw, rest, few] = self.raw(wide, about)
        return known


def sign(timer: RunningTimer) -> Key:
    """Return what tells two timers of standing forms apart."""
    return timer.spec, timer.step, timer.ripe, timer.overdue, timer.least is None


def _asked(question: Question | None) -> Key | None:
    return None if question is None else (question.about, question.target, question.cue)


def _apart(state: SessionState) -> Key:
    """Return what tells two states apart, but for place, facts and timers."""
    return (
        state.mode,
        state.under_way,
        _asked(state.question),
        state.standing,
        tuple(sorted({value.slot for value in state.values})),
        tuple(sorted({timer.name for timer in state.kept})),
        state.mode is Mode.EMERGENCY,
    )
