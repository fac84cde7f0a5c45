"""The moments of the shipped visits: what the real session machine lets be heard in each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache

import numpy as np

from benchmarks.listening.talk import one_phone_off, sentence, talk
from sidecue.assets import data_folder
from sidecue.hearing.grammar import active_cues, grammar_of
from sidecue.hearing.port import Vocabulary
from sidecue.hearing.silence import in_silence
from sidecue.procedure.loading import load_library, placed_case
from sidecue.procedure.plan import Cue, Plan, Tier
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.session.effects import Refuse
from sidecue.session.events import CueGiven, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

PRACTICE = "example"
PLANNED = date(2026, 1, 5)  # any day will do, as long as it is the same one each time
OTHER_KINDS = ("near", "one-phone", "foreign", "unaddressed", "sentence", "addressed-sentence")
_TIERS = {Tier.FREE: 0.2, Tier.ADVANCE: 0.35, Tier.GUARDED: 0.3, Tier.STOP: 0.15}


@dataclass(frozen=True)
class Moment:
    """A state of a visit and what may be heard in it."""

    visit: str
    step: str
    vocabulary: Vocabulary
    says: str = ""  # the tool's own sentence, while it speaks

    @property
    def cues(self) -> tuple[Cue, ...]:
        """The cues that count in it."""
        return active_cues(self.vocabulary)


@dataclass(frozen=True)
class Said:
    """One utterance: `text`, said at a moment; `right` is the cue it is, None when it is none."""

    kind: str
    text: str
    right: str | None
    tier: str  # of the right cue, or empty
    moment: Moment


@cache
def moments() -> tuple[Moment, ...]:
    """Every moment of every shipped case on its straight way, each with the questions that leaving
    the step out and saying a value raise, and with the tool itself speaking."""
    library = load_library(data_folder("flows"))
    practice = library.practices[PRACTICE]
    found: dict[tuple[str, Vocabulary], Moment] = {}
    for name in sorted(library.cases):
        case = placed_case(library.cases[name], practice.notation)
        visit = plan(library, choose_procedure(library, case, practice), case, practice, PLANNED)
        machine = SessionMachine(visit)
        prompts = {step.id: step.say for step in visit.steps}
        for state in _way(machine):
            for heard in _heard(machine, visit, state):
                says = prompts[state.step] if heard.stop_only else ""
                found.setdefault((name, heard), Moment(name, state.step, heard, says))
    return tuple(found.values())


def _heard(machine: SessionMachine, visit: Plan, state: SessionState) -> Iterator[Vocabulary]:
    yield _vocabulary(machine, visit, state)
    stops = tuple(cue for cue in machine.cues_now(state) if cue.tier.always)
    yield Vocabulary(stops, visit.address, False, True, visit.decoys, visit.pronunciations)
    guarded = [cue.id for cue in machine.cues_now(state) if cue.tier is Tier.GUARDED]
    values = [cue for cue in guarded if cue.startswith("set.")]
    for cue in ["skip", *values[:1]]:
        if cue in guarded:
            asked, _ = machine.step(state, CueGiven(state.now, cue))
            if asked.question is not None:
                yield _vocabulary(machine, visit, asked)


def _vocabulary(machine: SessionMachine, visit: Plan, state: SessionState) -> Vocabulary:
    return in_silence(
        Vocabulary(
            cues=machine.cues_now(state),
            address=visit.address,
            bare=machine.answering(state),
            decoys=visit.decoys,
            pronunciations=visit.pronunciations,
        )
    )


def _way(machine: SessionMachine) -> Iterator[SessionState]:
    """The states of a visit without incident, waiting where a timer asks for it."""
    state, _ = machine.step(machine.first(), Started(0.0))
    while state.live:
        yield state
        cues = machine.cues_now(state)
        cue = next((each for each in cues if each.id == "confirm"), cues[0])
        after, effects = machine.step(state, CueGiven(state.now + 1.0, cue.id))
        if any(isinstance(effect, Refuse) for effect in effects):
            due = machine.next_deadline(state)
            if due is None:
                raise ValueError(f"{cue.id} is refused at {state.step} and nothing is due")
            after, _ = machine.step(state, TimePassed(due))
        state = after


@cache
def _by_mode() -> dict[str, tuple[Moment, ...]]:
    modes: dict[str, list[Moment]] = {"addressed": [], "bare": [], "speaking": []}
    for moment in moments():
        words = moment.vocabulary
        modes["speaking" if words.stop_only else "bare" if words.bare else "addressed"].append(
            moment
        )
    return {mode: tuple(found) for mode, found in modes.items()}


def speaking_moment(rng: np.random.Generator) -> Moment:
    """A moment in which the tool itself speaks."""
    found = _by_mode()["speaking"]
    return found[rng.integers(len(found))]


def open_moment(rng: np.random.Generator) -> Moment:
    """A moment as most are: nothing asked, the tool silent, the address needed."""
    found = _by_mode()["addressed"]
    return found[rng.integers(len(found))]


def moment_for(rng: np.random.Generator) -> Moment:
    """Eight in ten open, one in ten in answer to a question, one in ten while the tool speaks."""
    mode = ("addressed",) * 8 + ("bare", "speaking")
    found = _by_mode()[mode[rng.integers(len(mode))]]
    return found[rng.integers(len(found))]


def draw(kind: str, rng: np.random.Generator) -> Said:
    """Draw an utterance of a kind: "cue" or one of OTHER_KINDS."""
    while True:
        said = _DRAWN[kind](rng)
        if said is not None and (said.right is not None or not _counts(said)):
            return said


def _counts(said: Said) -> bool:
    """True when the words, as said, are a cue after all."""
    path = grammar_of(said.moment.vocabulary).find(said.text)
    return path is not None and path.cue is not None


def _cue(rng: np.random.Generator) -> Said | None:
    moment = moment_for(rng)
    tiers, shares = list(_TIERS), np.array(list(_TIERS.values()))
    wanted = tiers[rng.choice(len(tiers), p=shares)]
    alike = (Tier.STOP, Tier.ALARM) if wanted.always else (wanted,)
    cues = [cue for cue in moment.cues if cue.tier in alike] or list(moment.cues)
    cue = cues[rng.integers(len(cues))]
    phrase = cue.phrases[rng.integers(len(cue.phrases))]
    words = moment.vocabulary
    bare = words.bare or (cue.tier.always and rng.random() < 0.7)
    text = phrase if bare else f"{words.address} {phrase}"
    return Said("cue", text, cue.id, cue.tier.value, moment)


def stop_word(rng: np.random.Generator) -> Said:
    """A stop word said while the tool speaks."""
    moment = speaking_moment(rng)
    cue = moment.cues[rng.integers(len(moment.cues))]
    return Said("cue", cue.phrases[rng.integers(len(cue.phrases))], cue.id, cue.tier.value, moment)


def _other(kind: str, text: str, moment: Moment, *, addressed: bool = True) -> Said:
    whole = f"{moment.vocabulary.address} {text}" if addressed else text
    return Said(kind, whole, None, "", moment)


def _near(rng: np.random.Generator) -> Said | None:
    pairs = [(cue, other) for cue, others in talk().near.items() for other in others]
    phrase, text = pairs[rng.integers(len(pairs))]
    found = _where(phrase)
    if not found:
        return None
    moment = found[rng.integers(len(found))]
    stop = any(phrase in cue.phrases for cue in moment.cues if cue.tier.always)
    return _other("near", text, moment, addressed=not (stop or moment.vocabulary.bare))


@cache
def _where(phrase: str) -> tuple[Moment, ...]:
    """The moments in which a phrase counts, without the tool speaking."""
    return tuple(
        moment
        for moment in moments()
        if not moment.vocabulary.stop_only and any(phrase in cue.phrases for cue in moment.cues)
    )


def _one_phone(rng: np.random.Generator) -> Said | None:
    cue = _cue(rng)
    if cue is None:
        return None
    address = f"{cue.moment.vocabulary.address} "
    others = one_phone_off(cue.text.removeprefix(address))
    if not others:
        return None
    text = others[rng.integers(len(others))]
    return _other("one-phone", text, cue.moment, addressed=cue.text.startswith(address))


def _foreign(rng: np.random.Generator) -> Said | None:
    moment = open_moment(rng)
    same = [other for other in _by_mode()["addressed"] if other.visit == moment.visit]
    other = same[rng.integers(len(same))]
    known = {phrase for cue in moment.cues for phrase in cue.phrases}
    strange = [p for cue in other.cues for p in cue.phrases if p not in known]
    if not strange:
        return None
    return _other("foreign", strange[rng.integers(len(strange))], moment)


def _unaddressed(rng: np.random.Generator) -> Said | None:
    moment = open_moment(rng)
    cues = [cue for cue in moment.cues if not cue.tier.always]
    cue = cues[rng.integers(len(cues))]
    text = cue.phrases[rng.integers(len(cue.phrases))]
    return Said("unaddressed", text, None, "", moment)


def _sentence(rng: np.random.Generator) -> Said | None:
    return _other("sentence", sentence(rng), moment_for(rng), addressed=False)


def _addressed_sentence(rng: np.random.Generator) -> Said | None:
    return _other("addressed-sentence", sentence(rng), open_moment(rng))


_DRAWN = {
    "cue": _cue,
    "near": _near,
    "one-phone": _one_phone,
    "foreign": _foreign,
    "unaddressed": _unaddressed,
    "sentence": _sentence,
    "addressed-sentence": _addressed_sentence,
}
