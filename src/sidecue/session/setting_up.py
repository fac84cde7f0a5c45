"""Setting up a case by voice: a pure machine beside the session's, before there is a plan.

What is said only asks: each value is read back, and a different word enters it; silence means no.
"No" with another value corrects. What is entered on a screen counts at once and is not spoken
about. Nothing here is stored: the plan that comes of it is.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from sidecue.procedure.case_talk import NEEDED, WARNINGS, CaseTalk, Choice, Item, near_misses
from sidecue.procedure.plan import Cue, Plan
from sidecue.session.effects import Effect, Say, Silence
from sidecue.session.prompts import lasts_about, spoken
from sidecue.session.voicing import ANSWER_WITHIN

#: Seconds to tell what was asked for without the address.
TELL_WITHIN = 12.0
START = "start"
NEXT = "setup.next"
_GENERAL = ("repeat", "quiet")


@dataclass(frozen=True, slots=True)
class Draft:
    """What a case so far comes to: a plan, or why there is none."""

    plan: Plan | None = None
    faults: tuple[str, ...] = ()


Appraise = Callable[[Mapping[str, Any]], Draft]


@dataclass(frozen=True, slots=True)
class ReadBack:
    """A value (or the start) that was said and waits for its confirmation."""

    about: str  # an item's entry, or START
    value: Any
    cue: str
    words: str
    lapses: float


@dataclass(frozen=True, slots=True)
class SettingUp:
    """A case being set up. `asked` is the item that is asked for, empty when it may start."""

    now: float
    entry: Mapping[str, Any]
    asked: str = ""
    left_open: frozenset[str] = frozenset()
    question: ReadBack | None = None
    bare_until: float = float("-inf")
    told: tuple[str, ...] = ()
    begun: Plan | None = None
    resting: bool = False  # a visit is over; the next case waits to be asked for


Step = tuple[SettingUp, tuple[Effect, ...]]


class SetUpMachine:
    """Decides what comes of each thing said. `cues` and `prompts` are the library's general ones;
    `appraise` plans a case so far."""

    def __init__(
        self,
        talk: CaseTalk,
        cues: tuple[Cue, ...],
        prompts: Mapping[str, str],
        appraise: Appraise,
    ) -> None:
        self._talk = talk
        self._by_id = {cue.id: cue for cue in cues}
        self._prompts = {**prompts, **talk.prompts}
        self._appraise = appraise

    def first(self, entry: Mapping[str, Any], now: float) -> Step:
        """Begin with `entry`, and ask for what is missing."""
        return self._ask(SettingUp(now, dict(entry)), ())

    def rest(self, now: float) -> SettingUp:
        """Wait for the next case to be asked for, after a visit."""
        return SettingUp(now, {}, resting=True)

    # -- looking ---------------------------------------------------------------------------------

    def cues(self, state: SettingUp) -> tuple[Cue, ...]:
        """Return what may be said now."""
        general = tuple(self._by_id[name] for name in _GENERAL)
        if state.resting:
            return (self._talk.cue(NEXT), *general)
        if state.question is not None:
            answers = (self._by_id["confirm"], self._by_id["deny"])
            return (*answers, *self._instead(state), *general)
        own: list[Cue] = [choice.cue for choice in self.choices(state)]
        item = self.item(state)
        if item is not None and item.may_stay_open:
            own.append(item.enough or self._talk.cue("setup.open"))
        if item is not None and item.many and state.entry.get(item.entry):
            own.append(self._by_id["strike"])
        own += [self._talk.cue("setup.start"), self._talk.cue("setup.read")]
        changes = (each.change for each in self._talk.items if each.entry != state.asked)
        return (*own, *changes, *general)

    def decoys(self, state: SettingUp) -> tuple[str, ...]:
        """Return what is decoded now so that no value is taken for it."""
        taken = {phrase for cue in self.cues(state) for phrase in cue.phrases}
        return tuple(each for each in near_misses(self.choices(state)) if each not in taken)

    def item(self, state: SettingUp) -> Item | None:
        """Return the item that is asked for."""
        return self._talk.item(state.asked) if state.asked else None

    def choices(self, state: SettingUp) -> tuple[Choice, ...]:
        """Return the values that may be said for it."""
        return self._talk.choices(state.asked, state.entry) if state.asked else ()

    def answering(self, state: SettingUp, at: float) -> bool:
        """Return whether what is said at `at` needs no address."""
        return state.question is not None or at <= state.bare_until

    # -- deciding --------------------------------------------------------------------------------

    def said(self, state: SettingUp, cue: str, now: float) -> Step:
        """Take a cue that may be said now; one that may not changes nothing."""
        if cue not in {each.id for each in self.cues(state)}:
            return state, ()
        state = replace(state, now=now)
        if cue == NEXT:
            return self.first({}, now)
        if cue == "repeat":
            return self._tell(state, state.told)
        if cue == "quiet":
            return state, (Silence(),)
        if state.question is not None:
            return self._answered(state, state.question, cue)
        match cue:
            case "setup.open" | "setup.enough":
                opened = replace(state, left_open=state.left_open | {state.asked})
                return self._ask(opened, ())
            case "setup.read":
                return self._ask(state, self._read(state))
            case "setup.start":
                return self._start(state)
            case "strike":
                return self._strike(state)
        if cue.startswith("setup.change."):
            entry = cue.removeprefix("setup.change.")
            wanted = "tooth" if entry == "surfaces" and not state.entry.get("tooth") else entry
            return self._asking(replace(state, asked=wanted), ())
        choice = next(each for each in self.choices(state) if each.cue.id == cue)
        return self._read_back(state, choice)

    def passed(self, state: SettingUp, now: float) -> Step:
        """Let time pass: an answer that never came means no."""
        if state.question is None or now < state.question.lapses:
            return state, ()
        open_ = replace(state, now=now, question=None)
        return self._tell(open_, (self._prompts["lapsed"],))

    def entered(self, state: SettingUp, entry: Mapping[str, Any], now: float) -> SettingUp:
        """Take the case as it stands on a screen; nothing is said about it."""
        told = _told(entry)
        if told == _told(state.entry):
            return state
        changed = replace(state, now=now, entry=told, question=None, resting=False)
        return replace(changed, asked=self._next(changed))

    # -- one thing each --------------------------------------------------------------------------

    def _instead(self, state: SettingUp) -> tuple[Cue, ...]:
        """Return the other values, which may follow a plain "no"."""
        question = state.question
        if question is None or question.about != state.asked:
            return ()
        found = []
        for choice in self.choices(state):
            if choice.cue.id != question.cue:
                said = choice.cue.phrases + ((choice.short,) if choice.short else ())
                more = tuple(f"no {phrase}" for phrase in said)
                found.append(replace(choice.cue, phrases=(*choice.cue.phrases, *more)))
        return tuple(found)

    def _read_back(self, state: SettingUp, choice: Choice) -> Step:
        say = self._prompts["ask-value"].format(value=choice.say)
        words = choice.say.split(". ")[0]
        return self._question(state, state.asked, choice.value, choice.cue.id, words, say)

    def _question(
        self, state: SettingUp, about: str, value: Any, cue: str, words: str, say: str
    ) -> Step:
        told = spoken(say)
        lapses = state.now + _lasting(told) + ANSWER_WITHIN
        asked = replace(state, question=ReadBack(about, value, cue, words, lapses))
        return self._tell(asked, told)

    def _answered(self, state: SettingUp, question: ReadBack, cue: str) -> Step:
        closed = replace(state, question=None)
        if cue == "deny":
            return self._tell(closed, (self._prompts["denied"],))
        if cue != "confirm":
            choice = next(each for each in self.choices(state) if each.cue.id == cue)
            return self._read_back(closed, choice)
        if question.about == START:
            plan = self._appraise(state.entry).plan
            if plan is None or not plan.startable:
                return self._ask(closed, ())
            begun = replace(closed, begun=plan)
            return self._tell(begun, (self._prompts["started"].format(count=len(plan.steps)),))
        recorded = self._prompts["recorded"].format(value=_inside(question.words))
        entry = self._with(state.entry, question)
        return self._ask(replace(closed, entry=entry), spoken(recorded))

    def _with(self, entry: Mapping[str, Any], question: ReadBack) -> dict[str, Any]:
        new, name = dict(entry), question.about
        if self._talk.item(name).many:
            kept = [each for each in new.get(name, ()) if each != question.value]
            new[name] = [*kept, question.value]
            return new
        new[name] = question.value
        if name in ("tooth", "surfaces"):  # what was said of another place says nothing of this
            new.pop("cervical", None)
        if name == "tooth":
            letters = {str(c.value) for c in self._talk.choices("surfaces", new)}
            if new.get("surfaces") not in letters:
                new.pop("surfaces", None)
        return new

    def _strike(self, state: SettingUp) -> Step:
        kept = list(state.entry[state.asked])
        last = kept.pop()
        said = self._talk.said(state.asked, {state.asked: [last]})
        entry = {**state.entry, state.asked: kept}
        struck = self._prompts["struck"].format(value=_inside(said))
        return self._tell(replace(state, entry=entry), (struck,))

    def _start(self, state: SettingUp) -> Step:
        if self._untold(state):
            say = self._prompts["first"].format(ask=self._talk.item(WARNINGS).ask)
            return self._tell(replace(state, asked=WARNINGS), spoken(say))
        missing = self._next(state)
        plan = None if missing in NEEDED else self._appraise(state.entry).plan
        if plan is None or not plan.startable:
            return self._ask(state, ())
        words = {name: self._talk.said(name, state.entry) for name in NEEDED}
        say = self._prompts["ask-start"].format(**words)  # a sentence each, so a prompt each
        return self._question(state, START, None, "setup.start", plan.case_line, say)

    def _untold(self, state: SettingUp) -> bool:
        """Return whether nobody has answered about warnings yet, where all else is known."""
        told = all(state.entry.get(name) for name in NEEDED)
        return told and WARNINGS not in state.left_open

    def _read(self, state: SettingUp) -> tuple[str, ...]:
        said = (self._talk.said(item.entry, state.entry) for item in self._talk.items)
        return tuple(f"{each}." for each in said if each)

    def _next(self, state: SettingUp) -> str:
        """Return what to ask for: what a case needs, what its plan asks, then what may stay
        open."""
        for name in NEEDED:
            if not state.entry.get(name):
                return name
        plan = self._appraise(state.entry).plan
        for question in plan.questions if plan is not None else ():
            for begins, name in self._talk.answers.items():
                if question.id.startswith(begins) and name not in state.entry:
                    return name
        for item in self._talk.items:
            name = item.entry
            if not item.wanted(state.entry):
                continue
            if item.many and name not in state.left_open:
                return name
            if item.may_stay_open and name not in state.entry and name not in state.left_open:
                return name
        return ""

    def _ask(self, state: SettingUp, before: tuple[str, ...]) -> Step:
        """Ask for what comes next, after saying `before`."""
        return self._asking(replace(state, asked=self._next(state)), before)

    def _asking(self, state: SettingUp, before: tuple[str, ...]) -> Step:
        if state.asked:
            return self._tell(state, (*before, self._talk.item(state.asked).ask))
        draft = self._appraise(state.entry)
        if draft.plan is None:
            key = "faulty"
        elif draft.plan.blocks:
            key = "refused"
        else:
            key = "start" if draft.plan.startable else "screen"
        return self._tell(state, (*before, self._prompts[key]))

    def _tell(self, state: SettingUp, prompts: tuple[str, ...]) -> Step:
        until = state.now + _lasting(prompts) + TELL_WITHIN
        told = replace(state, told=prompts, bare_until=until)
        return told, tuple(Say(each) for each in prompts)


def _told(entry: Mapping[str, Any]) -> dict[str, Any]:
    """Return `entry` without what says nothing: a screen keeps an empty list where nobody told."""
    return {name: value for name, value in entry.items() if value not in ("", [], None)}


def _lasting(prompts: tuple[str, ...]) -> float:
    return sum(lasts_about(each) for each in prompts)


def _inside(say: str) -> str:
    return say[:1].lower() + say[1:]
