"""What a session tells when it is asked: the free cues. They change nothing."""

from __future__ import annotations

from sidecue.procedure.plan import Plan
from sidecue.session.advising import Advising
from sidecue.session.effects import Say, Urgency
from sidecue.session.prompts import Prompter, short_name, spoken
from sidecue.session.state import Mode, SessionState

FREE = frozenset({"repeat", "what-next", "how-long", "which-tooth", "status", "advice"})


class Teller:
    """Answers questions about one plan."""

    def __init__(self, plan: Plan, prompts: Prompter) -> None:
        self._plan = plan
        self._prompts = prompts
        self._advising = Advising(plan)

    def answer(self, state: SessionState, cue: str) -> tuple[Say, ...]:
        """Return the answer to a cue of FREE. Raises KeyError for any other."""
        here = self._plan.step_index[state.step]
        match cue:
            case "repeat":
                return self.again(state)
            case "what-next":
                if here + 1 == len(self._plan.steps):
                    return _say(self._prompts.text("next-none"))
                name = short_name(self._plan.steps[here + 1].id)
                return _say(self._prompts.text("next", step=name))
            case "how-long":
                return self._prompts.time_left(state)
            case "which-tooth":
                return tuple(Say(each) for each in self._prompts.tooth())
            case "status":
                left, say = len(self._plan.steps) - here, self._plan.steps[here].say
                return _say(self._prompts.text("status", count=str(left), prompt=say))
            case "advice":
                return self._advising.says(state)
        raise KeyError(cue)

    def again(self, state: SessionState) -> tuple[Say, ...]:
        """Say once more what the moment is about: the question, the emergency, the last prompt."""
        if state.question is not None:
            return _say(state.question.say, Urgency.CAUTION)
        if state.mode is Mode.EMERGENCY:
            lines = next(e.says for e in self._plan.emergencies if e.id == state.emergency)
            return tuple(Say(line, Urgency.ALARM) for line in lines)
        return _say(state.last_said)


def _say(text: str, urgency: Urgency = Urgency.ROUTINE) -> tuple[Say, ...]:
    return tuple(Say(each, urgency) for each in spoken(text))
