"""What must hold in every state and on every transition.

The interlocks are judged here by a reading of their own (`Rule` as it is written), not by the
function the machine refuses with: a fault there would otherwise hide itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from sidecue.procedure.plan import Cue, Plan, Rule, Tier
from sidecue.procedure.words import MOST_WORDS
from sidecue.proof.abstraction import Abstraction
from sidecue.proof.laws import NotWhile, UsedUp, beside, laws
from sidecue.proof.moves import Kind, Move
from sidecue.session import timers as t
from sidecue.session.advising import words_for_the_patient
from sidecue.session.effects import Effect, Refuse, Say, Urgency
from sidecue.session.state import Asking, Mode, RunningTimer, SessionState
from sidecue.session.timers import ALARMING


@dataclass(frozen=True, slots=True)
class Broken:
    """A property that does not hold, and what shows it."""

    name: str
    what: str


class Transition:
    """One step of the machine: `before` and `after` as the machine saw and gave them; whether it
    refused, whether the current step was begun or done, and the facts gained and lost."""

    __slots__ = ("acted", "after", "before", "effects", "gained", "lost", "move", "refused")

    def __init__(
        self, before: SessionState, move: Move, after: SessionState, effects: tuple[Effect, ...]
    ) -> None:
        self.before, self.move, self.after, self.effects = before, move, after, effects
        self.refused = any(isinstance(effect, Refuse) for effect in effects)
        self.acted = (
            bool(after.history)
            and move.kind is not Kind.UNDO
            and not after.history[-1].entry
            and not after.skips
        )
        same = after.facts is before.facts
        self.gained = _NONE if same else after.facts - before.facts
        self.lost = _NONE if same else before.facts - after.facts


_NONE: frozenset[str] = frozenset()
#: Cues of the advance tier that are no step's own: judged by themselves.
_GENERAL = frozenset({"undo", "deny", "resume"})


def _work(state: SessionState) -> tuple[object, ...]:
    return state.step, state.under_way, state.facts, state.timers


class Properties:
    """The properties of one plan; `rules` are the interlocks it is held to."""

    def __init__(self, plan: Plan, rules: Iterable[Rule], forms: Abstraction) -> None:
        self._plan = plan
        self._forms = forms
        self._steps = {step.id: step for step in plan.steps}
        ids = [step.id for step in plan.steps]
        self._following = dict(zip(ids, [*ids[1:], ids[-1]], strict=True))
        self._physical = frozenset(fact.id for fact in plan.facts if fact.physical)
        known = frozenset(fact.id for fact in plan.facts)
        every = (*rules, *beside(plan))
        self._acts: dict[str, list[Rule]] = {}
        self._nevers: dict[str, list[Rule]] = {}
        for rule in every:
            if rule.act is not None:
                self._acts.setdefault(rule.act, []).append(rule)
            for fact in rule.never if known.issuperset(rule.never) else ():
                self._nevers.setdefault(fact, []).append(rule)
        self._patient = words_for_the_patient(plan)
        self._used_up: tuple[UsedUp, ...] = laws().used_up
        self._not_while: dict[str, list[NotWhile]] = {}
        for law in laws().not_while:
            self._not_while.setdefault(law.fact, []).append(law)

    # -- states ----------------------------------------------------------------------------------

    def of_state(self, state: SessionState, cues: tuple[Cue, ...]) -> Iterator[Broken]:
        """Yield what is wrong with `state`, where `cues` may be said."""
        phrases = [phrase for cue in cues for phrase in cue.phrases]
        if len(phrases) != len(set(phrases)):
            twice = sorted({phrase for phrase in phrases if phrases.count(phrase) > 1})
            yield Broken("one phrase, one meaning", f"{twice[0]!r} means two things")
        if not state.live:
            return
        for emergency in self._plan.emergencies:
            if emergency.cue not in cues:
                yield Broken("every emergency from everywhere", f"{emergency.id} cannot be said")
        if state.mode is Mode.RUNNING:
            if not any(cue.id == "pause" and cue.tier is Tier.STOP for cue in cues):
                yield Broken("pause in one utterance", "pause cannot be said")
            if state.question is None:
                yield from self._own_cue(state, cues)

    def _own_cue(self, state: SessionState, cues: tuple[Cue, ...]) -> Iterator[Broken]:
        step = self._steps[state.step]
        own = step.done if step.begin is None or state.under_way else step.begin
        if own not in cues:
            yield Broken(
                "one phrase, one meaning", f"{own.phrases[0]!r} does not count at its step"
            )
        if not any(cue.id == "undo" for cue in cues):
            yield Broken("undo in one utterance", "undo cannot be said")

    # -- transitions -----------------------------------------------------------------------------

    def of_transition(self, trial: Transition) -> Iterator[Broken]:
        """Yield what is wrong with one transition."""
        yield from self._interlocks(trial)
        yield from self._physical_facts(trial)
        yield from self._timers(trial)
        yield from self._spoken(trial)
        if trial.refused and trial.move.kind is not Kind.RING:
            yield from self._unmoved(trial, "a refusal changes nothing")
        cue = trial.move.cue
        if trial.move.kind is Kind.LATE:
            yield from self._silent(trial)
        elif cue is not None:
            yield from self._tiers(trial, cue)
            yield from self._slip(trial, cue)
        elif trial.move.kind in (Kind.UNHEARD, Kind.DEVICE):
            yield from self._unmoved(trial, "silence and noise change nothing")
        elif trial.move.kind is Kind.LAPSE:
            yield from self._silent(trial)
        elif trial.move.kind is Kind.RESTART:
            yield from self._restarted(trial)

    def _interlocks(self, trial: Transition) -> Iterator[Broken]:
        before, after, gained = trial.before, trial.after, trial.gained
        if trial.move.kind is Kind.UNDO:
            return
        if trial.acted and before.standing != before.step:
            step = self._steps[before.step]
            done = not after.under_way
            gained = gained.union(step.establishes if done else step.begin_establishes)
        for fact in gained:
            for rule in self._acts.get(fact, ()):
                lacking = [need for need in rule.needs if need not in before.facts]
                if lacking:
                    yield Broken(f"interlock {rule.id}", f"{fact!r} without {lacking[0]!r}")
            for rule in self._nevers.get(fact, ()):
                if after.facts.issuperset(rule.never):
                    yield Broken(f"interlock {rule.id}", f"{' and '.join(rule.never)} together")
            for bar in self._not_while.get(fact, ()):
                barring = before.facts.intersection(bar.facts)
                if barring:
                    yield Broken(f"not while {min(barring)}", f"{fact!r} comes about; {bar.why}")
        for law in self._used_up:
            left = after.facts.intersection(law.takes)
            if law.fact in trial.lost and left:
                yield Broken(f"used up with {law.fact}", f"{min(left)!r} stays; {law.why}")

    def _physical_facts(self, trial: Transition) -> Iterator[Broken]:
        gone = trial.lost & self._physical
        if not gone:
            return
        if trial.move.kind is Kind.UNDO:
            yield Broken("what was done stays done", f"undo takes {min(gone)!r} away")
            return
        step = self._steps[trial.before.step]
        allowed: set[str] = set()
        if trial.acted:
            allowed.update(step.voids, step.begin_voids)
        for happening in self._plan.happenings:
            question = trial.before.question
            if question is not None and question.target == happening.cue.id:
                allowed.update(happening.voids)
        for timer in trial.before.timers:
            if timer.spec.name == trial.move.timer:
                allowed.update(timer.spec.overdue_voids)
        for fact in gone - allowed:
            yield Broken("what was done stays done", f"{fact!r} is taken away")

    def _timers(self, trial: Transition) -> Iterator[Broken]:
        after = {timer.spec.name: timer for timer in trial.after.timers}
        if len(after) != len(trial.after.timers):
            yield Broken("no timer twice", "two timers of one name run")
        if trial.move.kind is Kind.UNDO:
            return
        ended = {timer.name for timer in trial.after.kept} if trial.after.kept else set()
        for timer in trial.before.timers:
            name = timer.spec.name
            if name not in after:
                if name not in ended:
                    yield Broken("no timer lost", f"{name!r} is gone without a record")
                yield from self._ended(trial, timer)
        if trial.move.kind is Kind.RING:
            yield from self._rung(trial)
        if trial.acted:
            yield from self._started(trial, after)

    def _ended(self, trial: Transition, timer: RunningTimer) -> Iterator[Broken]:
        """A timer ended: not before its least time by an act, and not without cause."""
        name = timer.spec.name
        if trial.acted and t.held_for(timer, trial.before.now):
            yield Broken("no hard minimum passed", f"{name!r} ended short")
        causes = trial.acted or trial.lost or trial.after.mode is Mode.FINISHED
        own_end = trial.move.kind is Kind.RING and trial.move.timer == name
        question = trial.before.question
        went_back = question is not None and question.about is Asking.HAPPENING
        if not (causes or own_end or went_back):
            yield Broken("no timer lost", f"{name!r} ended without cause")

    def _rung(self, trial: Transition) -> Iterator[Broken]:
        spec = next(x.spec for x in trial.before.timers if x.spec.name == trial.move.timer)
        if trial.move.ring is t.Ring.OVER and spec.kind in ALARMING:
            alarms = [e for e in trial.effects if isinstance(e, Say) and e.urgency is Urgency.ALARM]
            if not alarms:
                yield Broken("every hard maximum alarms", f"{spec.name!r} passes in silence")
            if not set(spec.overdue_voids).isdisjoint(trial.after.facts):
                yield Broken("every hard maximum spoils", f"{spec.name!r} leaves what it guards")
        rung = [x for x in trial.after.timers if x.spec.name == spec.name]
        marks = {t.Ring.WARN: "warned", t.Ring.RIPE: "ripe", t.Ring.OVER: "overdue"}
        if trial.move.ring is t.Ring.WARN:
            rung_alike = replace(trial.before, timers=trial.after.timers)
            warned = Transition(rung_alike, trial.move, trial.after, trial.effects)
            yield from self._unmoved(warned, "a warning changes nothing")
        if rung and trial.move.ring is not None and not getattr(rung[0], marks[trial.move.ring]):
            yield Broken("no ring twice", f"{spec.name!r} would ring again")

    def _started(self, trial: Transition, after: dict[str, RunningTimer]) -> Iterator[Broken]:
        step, begun = self._steps[trial.before.step], trial.after.under_way
        if step.begin is not None and not begun:
            return
        for spec in step.timers:
            timer = after.get(spec.name)
            if timer is None:
                if trial.after.mode is not Mode.FINISHED:
                    yield Broken("every timer starts", f"{spec.name!r} does not start")
            elif spec.no_less_than is not None:
                ran = [x.ran for x in trial.after.kept if x.name == spec.no_less_than]
                if ran and (timer.least or 0.0) < ran[-1]:
                    yield Broken("every timer starts", f"{spec.name!r} is shorter than it must be")

    def _spoken(self, trial: Transition) -> Iterator[Broken]:
        for effect in trial.effects:
            if not isinstance(effect, Say) or effect.text in self._patient:
                continue
            if len(effect.text.split()) > MOST_WORDS:
                yield Broken("at most eight words", f"{effect.text!r} is too long")

    def _tiers(self, trial: Transition, cue: Cue) -> Iterator[Broken]:
        before, after = trial.before, trial.after
        if cue.tier is Tier.FREE or cue.id == "quiet":
            yield from self._unmoved(trial, "a free cue changes nothing", question=True)
        if cue.id == "pause":
            same = after.mode is Mode.PAUSED and after.question is None
            if not same or _work(after) != _work(before):
                yield Broken("pause in one utterance", "pause does not pause")
        elif cue.tier is Tier.ALARM:
            if after.mode is not Mode.EMERGENCY or _work(after) != _work(before):
                yield Broken("every emergency from everywhere", f"{cue.id} changes the work")
        elif cue.tier is Tier.GUARDED and before.question is None:
            yield from self._unmoved(trial, "a guarded cue only asks")
        elif cue.id in ("deny", "resume"):
            yield from self._unmoved(trial, "a no and a resume change nothing")
        elif before.question is not None and before.question.about is Asking.EMERGENCY_OVER:
            yield from self._unmoved(trial, "the end of an emergency changes nothing")
        if after.values != before.values and not self._confirmed(trial, cue):
            yield Broken("no value without read-back", f"{cue.id} changes what was recorded")
        skips = before.question is not None and before.question.about in (
            Asking.SKIP, Asking.JUMP)  # fmt: skip
        if skips and (trial.gained or trial.lost):
            yield Broken("leaving out gains nothing", "a skip changes facts")

    def _slip(self, trial: Transition, cue: Cue) -> Iterator[Broken]:
        """What a cue of the advance tier that nobody meant can do at most: begin or end the step
        at hand, by what that step brings about, and be taken back in one utterance.

        Interlocks, minimums and physical facts are judged for it as for any other.
        """
        before, after, name = trial.before, trial.after, "a slip does no harm"
        if cue.tier is not Tier.ADVANCE or before.question is not None or cue.id in _GENERAL:
            return
        step = self._steps[before.step]
        own = before.step == after.step or after.step == self._following[before.step]
        if not own or after.skips:
            yield Broken(name, f"{cue.id} leads to {after.step!r}")
        brought = {*step.establishes, *step.begin_establishes}
        for fact in trial.gained - brought:
            yield Broken(name, f"{cue.id} brings about {fact!r}")
        for fact in trial.gained & laws().read_back:
            yield Broken(name, f"{cue.id} brings about {fact!r} without a read-back")
        for fact in trial.lost.difference(step.voids, step.begin_voids):
            yield Broken(name, f"{cue.id} ends {fact!r}")
        if trial.acted is trial.refused and after.mode is Mode.RUNNING:
            yield Broken(name, f"{cue.id} cannot be taken back")

    def _silent(self, trial: Transition) -> Iterator[Broken]:
        """Silence means no: the question is gone, and an answer that comes later counts for
        nothing (a guarded cue that counts by itself may ask anew)."""
        before, after, name = trial.before, trial.after, "silence means no"
        yield from self._unmoved(trial, name)
        kept = (after.mode, after.skips, after.values) == (before.mode, before.skips, before.values)
        anew = () if trial.move.cue is None else (trial.move.cue.id,)
        if not kept or (after.question is not None and after.question.cue not in anew):
            yield Broken(name, f"{trial.move.told()} is taken for an answer")

    def _restarted(self, trial: Transition) -> Iterator[Broken]:
        """The program came back: everything stands but the open question."""
        before, after, name = trial.before, trial.after, "a restart loses nothing"
        yield from self._unmoved(trial, name)
        if after.question is not None:
            yield Broken(name, "a question from before it is still open")
        stand = replace(after, question=before.question, last_said=before.last_said)
        if stand != before:
            yield Broken(name, "more than the question is gone")

    def _confirmed(self, trial: Transition, cue: Cue) -> bool:
        asked = trial.before.question
        if asked is None or cue.id != "confirm":
            return cue.id == "undo"
        return asked.about in (Asking.VALUE, Asking.STRIKE)

    def _unmoved(self, trial: Transition, name: str, *, question: bool = False) -> Iterator[Broken]:
        before, after = trial.before, trial.after
        if _work(after) != _work(before) or (question and after.question != before.question):
            yield Broken(name, f"{trial.move.told()} changes the work")

    # -- undo ------------------------------------------------------------------------------------

    def of_undo(self, origin: SessionState, undone: Transition) -> Iterator[Broken]:
        """Yield what is wrong with taking back the act that led from `origin`, at once."""
        yield from self.of_transition(undone)
        back = undone.after
        if (back.step, back.under_way) != (origin.step, origin.under_way):
            yield Broken("undo in one utterance", f"undo leads to {back.step!r}")
        for timer in undone.before.timers:
            alarming = timer.spec.kind in ALARMING and not timer.overdue
            if alarming and timer.spec.name not in {each.spec.name for each in back.timers}:
                what = f"undo ends {timer.spec.name!r}, and what it times goes on"
                yield Broken("no timer lost", what)
        stands = frozenset(undone.before.facts & self._physical) - origin.facts
        if stands - back.facts:
            yield Broken("what was done stays done", "undo takes a physical fact away")
        claims = back.facts - origin.facts - self._physical
        if claims:
            yield Broken("undo takes back claims", f"{min(claims)!r} is still claimed")
        if not stands and self._forms.form_of(back) != self._forms.form_of(origin):
            yield Broken("undo takes back claims", "undo does not lead back to the state before")
