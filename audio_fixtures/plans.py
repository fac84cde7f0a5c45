"""What the procedures ask to be spoken: which phrase, at which moment, and what must come of it.

What a cue must lead to is worked out here from the plan's order alone, not by the machine, so
that a test of one against the other can fail.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache

from situations import VISITS, Situation, cues_in, machine_of, parts, state_in, visit_plan

from sidecue.hearing.silence import SILENCING
from sidecue.procedure.plan import Cue, Plan, Tier
from sidecue.session.events import CueGiven
from sidecue.session.illegal import IllegalEvent
from sidecue.session.state import Mode

Must = dict[str, str]
Line = tuple[str, Must, Situation]


def refused(why: str) -> Must:
    """Nothing may come of it."""
    return {"refused": why}


def address(at: Situation) -> str:
    """The address phrase of the visit."""
    return visit_plan(at.visit).address


def places_for(what: str) -> list[Situation]:
    """Moments of the visits in an order of its own for each `what`.

    By a hash of both, so that a step more or less moves nothing else to another moment.
    """
    every = [at for visit in VISITS for at in parts(visit)]
    return sorted(every, key=lambda at: _number(what, at.visit, at.at, at.part))


def _number(*words: str) -> int:
    """A number that follows from the words alone, as good as drawn."""
    return int.from_bytes(hashlib.sha256("\0".join(words).encode()).digest()[:8], "big")


def accepted() -> Iterator[Line]:
    """Every phrase of every cue twice, in two visits where both have it."""
    for phrase, places_ in _where().items():
        for number, (cue, at) in enumerate(_two(places_)):
            # Stop words count without the address, and an answer to a question does too.
            bare = cue.tier.always or machine_of(at.visit).answering(state_in(at))
            said = phrase if bare and number else f"{address(at)} {phrase}"
            yield said, {"cue": cue.id, "to": _leads_to(at, cue)}, _heard_at(at, cue)


def near_misses(lines: Iterable[dict[str, str]]) -> Iterator[Line]:
    """Each written line at a moment when the cue it is near to may be given."""
    where = _where()
    for line in lines:
        if line["near"] not in where:
            raise SystemExit(f"phrases.yaml: no visit has the cue {line['near']!r}")
        cue, at = where[line["near"]][0]
        must = refused(f"not {line['near']!r}, though near it")
        yield f"{address(at)} {line['say']}", must, _heard_at(at, cue)


def _heard_at(at: Situation, cue: Cue) -> Situation:
    """What silences the tool counts while it speaks."""
    return replace(at, speaking=True) if cue.id == SILENCING else at


def misplaced() -> Iterator[Line]:
    """Cues without the address phrase, and cues of another moment of the visit."""
    for phrase, found in sorted(_where().items()):
        cue, at = found[-1]
        if cue.id == SILENCING:
            yield phrase, refused("nothing is said that could be silenced"), at
            continue
        bare = cue.tier.always or machine_of(at.visit).answering(state_in(at))
        quarter = _number(phrase) % 4
        if quarter == 0 and not bare:
            yield phrase, refused("said without the address phrase"), at
        if quarter == 2:
            for other in places_for(phrase)[:12]:  # a general cue counts at every moment
                if phrase not in _phrases_at(other):
                    must = refused("not a cue of this moment")
                    yield f"{address(other)} {phrase}", must, other
                    break


def own_prompts() -> Iterator[tuple[str, Situation]]:
    """A third of the visits' prompts; half of those while the ears know that the tool speaks."""
    seen: set[str] = set()
    for visit in VISITS:
        plan = visit_plan(visit)
        for step in plan.steps:
            cautions = [plan.caution_by_id[caution].say for caution in step.cautions]
            for text in (step.say, *cautions):
                if text not in seen and _number(text) % 3 == 0:
                    yield text, Situation(visit, step.id, speaking=_number(text) % 2 == 0)
                seen.add(text)


@cache
def _phrases_at(at: Situation) -> frozenset[str]:
    return frozenset(phrase for cue in cues_in(at) for phrase in cue.phrases)


@cache
def _where() -> dict[str, list[tuple[Cue, Situation]]]:
    """For each phrase the moments at which it is a cue in its own right, best first."""
    found: dict[str, list[tuple[Cue, Situation]]] = {}
    for visit in VISITS:
        own = _tiers(visit_plan(visit))
        here: dict[str, tuple[Cue, Situation]] = {}
        for at in _moments(visit):
            for cue in cues_in(at):
                if own.get(cue.id) is not cue.tier:
                    continue  # a later step's cue, listened for to be refused
                if _out_of_turn(at, cue):
                    continue
                for phrase in cue.phrases:
                    here.setdefault(phrase, (cue, at))
        for phrase, place in here.items():
            found.setdefault(phrase, []).append(place)
    return found


def never_offered() -> tuple[str, ...]:
    """Phrases of the visits that no moment looked at here offers: a session cannot hear them."""
    return tuple(sorted({p for visit in VISITS for p in _phrases(visit_plan(visit))} - {*_where()}))


def _two(found: list[tuple[Cue, Situation]]) -> list[tuple[Cue, Situation]]:
    return [found[0], found[-1]]


def _phrases(plan: Plan) -> Iterator[str]:
    for cue in every_cue(plan):
        yield from cue.phrases


def every_cue(plan: Plan) -> Iterator[Cue]:
    """Every cue of a plan."""
    for step in plan.steps:
        yield from (cue for cue in (step.begin, step.done) if cue is not None)
    yield from (entry.cue for entry in (*plan.happenings, *plan.emergencies))
    yield from (*plan.cues, *plan.skip_reasons)


def _tiers(plan: Plan) -> dict[str, Tier]:
    return {cue.id: cue.tier for cue in every_cue(plan)}


def _moments(visit: str) -> Iterator[Situation]:
    """The parts of the steps from the middle on, then what only an incident leads to."""
    every = parts(visit)
    middle = len(every) // 2
    spread = [*every[middle:], *every[:middle]]
    yield from spread
    yield from (Situation(at.visit, at.at, at.part, ("pause",)) for at in spread)
    alarm = visit_plan(visit).emergencies[0].cue.id
    yield Situation(visit, spread[0].at, spread[0].part, (alarm,))
    yield Situation(visit, spread[0].at, spread[0].part, (alarm, "emergency-over"))
    for at in every:
        asked = Situation(visit, at.at, at.part, ("skip",))
        try:
            if state_in(asked).question is not None:
                yield asked
        except IllegalEvent:
            continue


def _out_of_turn(at: Situation, cue: Cue) -> bool:
    """A cue may count and yet be refused: done before begin, skipping what cannot be left out."""
    if cue.id == "skip":
        state, _ = machine_of(at.visit).step(state_in(at), CueGiven(state_in(at).now, cue.id))
        return state.question is None
    step = visit_plan(at.visit).steps[visit_plan(at.visit).step_index[at.at]]
    return step.begin is not None and at.part == "before" and cue.id == step.done.id


def _leads_to(at: Situation, cue: Cue) -> str:
    """What comes of a cue, by the plan's order: a step, a part of one, a mode or a question."""
    plan = visit_plan(at.visit)
    index = plan.step_index[at.at]
    step = plan.steps[index]
    if cue.tier is Tier.GUARDED and cue.id == step.done.id:
        return "question"
    if cue.id == step.done.id:
        return plan.steps[index + 1].id if index + 1 < len(plan.steps) else Mode.FINISHED
    if step.begin is not None and cue.id == step.begin.id:
        return f"{step.id} under-way"
    if cue.id in {entry.cue.id for entry in plan.emergencies}:
        return Mode.EMERGENCY
    if cue.id in {"skip", "emergency-over", *(entry.cue.id for entry in plan.happenings)}:
        return "question"
    if cue.id == "pause":
        return Mode.PAUSED
    if cue.id == "confirm" and at.after[-1:] == ("emergency-over",):
        return Mode.PAUSED  # nobody is hurried on after an emergency
    if cue.id == "resume":
        return Mode.RUNNING
    if cue.id in {reason.id for reason in plan.skip_reasons}:
        return plan.steps[index + 1].id
    if cue.id == "undo":
        return "undone"
    return "same"
