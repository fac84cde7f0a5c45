"""What a state says as it changes: the prompts that go with an arrival, a refusal, an answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sidecue.procedure.plan import Plan, Step
from sidecue.session import timers as t
from sidecue.session.effects import Chime, ChimeKind, Effect, Refuse, Say, Silence, Urgency
from sidecue.session.holds import Hold
from sidecue.session.prompts import Prompter, lasts_about, spoken
from sidecue.session.state import Asking, Mode, Question, RunningTimer, SessionState

#: Seconds a read-back, once said, waits for its different word; silence means no.
ANSWER_WITHIN = 5.0

Turn = tuple[SessionState, tuple[Effect, ...]]


class Voice:
    """The prompts of one plan as effects; each state keeps what was said last."""

    def __init__(self, plan: Plan, prompts: Prompter) -> None:
        self._plan = plan
        self._prompts = prompts

    def prompt(self, state: SessionState) -> str:
        """Return the current step's own prompt."""
        return self._plan.steps[self._plan.step_index[state.step]].say

    def arrive(self, state: SessionState, came_from: Step | None) -> Turn:
        """Announce the step of `state`; only its prompt while something is about to spoil."""
        step = self._plan.steps[self._plan.step_index[state.step]]
        said = self._prompts.announce(step, came_from)
        return replace(state, last_said=step.say), said[:1] if t.pressing(state) else said

    def refuse(self, state: SessionState, cue: str, hold: Hold, *more: Effect) -> Turn:
        """Refuse `cue` with its reason, and say `more` after it."""
        says = (Say(each, Urgency.CAUTION) for each in spoken(hold.why))
        refused = (Chime(ChimeKind.REFUSED), Refuse(cue, hold.why, hold.rule))
        return replace(state, last_said=hold.why), (*refused, *says, *more)

    def ask(
        self, state: SessionState, about: Asking, target: str, cue: str, say: str,
        hold: Hold | None = None,
    ) -> Turn:  # fmt: skip
        """Read back and wait for a different word, unless `hold` forbids what would follow."""
        if hold is not None:
            return self.refuse(state, cue, hold)
        lapses = state.now + lasts_about(say) + ANSWER_WITHIN
        question = Question(about, target, cue, lapses, say)
        said = (Say(each, Urgency.CAUTION) for each in spoken(say))
        return replace(state, question=question, last_said=say), (Chime(ChimeKind.HEARD), *said)

    def alarm(self, state: SessionState, lines: Sequence[str]) -> Turn:
        """Fall silent, then say the lines of an emergency."""
        said = (Say(line, Urgency.ALARM) for line in lines)
        return replace(state, last_said=" ".join(lines)), (Silence(), *said)

    def remind(self, state: SessionState, late: Sequence[RunningTimer]) -> tuple[Effect, ...]:
        """Chime, and tell again what is overdue; an emergency's own lines go first."""
        if not late or state.mode is Mode.EMERGENCY:
            return ()
        texts = [self._over(each, state.now) for each in late]
        alarms = (Say(text, Urgency.ALARM) for text in dict.fromkeys(texts))
        return (Chime(ChimeKind.DUE), *alarms)

    def _over(self, timer: RunningTimer, now: float) -> str:
        return timer.spec.overdue_say or self._prompts.ring(timer, t.Ring.OVER, now)

    def device_lost(self, state: SessionState, device: str) -> Turn:
        """Keep and tell that `device` went away."""
        lost = replace(state, lost=state.lost | {device})
        after, said = self.says(lost, "device-lost", Urgency.ALARM, device=device)
        return after, (Chime(ChimeKind.DUE), *said)

    def device_back(self, state: SessionState, device: str) -> Turn:
        """Keep and tell that `device` came back."""
        back = replace(state, lost=state.lost - {device})
        return self.says(back, "device-back", device=device)

    def restarted(self, state: SessionState) -> Turn:
        """Tell that the program came back, and what holds now."""
        running = state.mode is Mode.RUNNING
        prompt = self.prompt(state) if running else self._prompts.text("paused")
        return self.says(state, "restarted", prompt=prompt)

    def says(
        self, state: SessionState, key: str, urgency: Urgency = Urgency.ROUTINE, **words: str
    ) -> Turn:
        """Say the sentence `key`."""
        return self.tell(state, self._prompts.text(key, **words), urgency)

    def tell(self, state: SessionState, text: str, urgency: Urgency = Urgency.ROUTINE) -> Turn:
        """Say `text`, in sentences where it is too long for one prompt."""
        return replace(state, last_said=text), tuple(Say(each, urgency) for each in spoken(text))
