"""The patient's advice: by what was really done, from the read-out on, spoken on request.

It is the same on paper, on the screen and by voice; only who knows what came true differs.
"""

from __future__ import annotations

from collections.abc import Container

from sidecue.procedure.plan import Plan
from sidecue.session.effects import Say
from sidecue.session.prompts import sentences
from sidecue.session.state import Mode, SessionState

#: The instrument whose step hands the patient the advice.
ADVICE_SHEET = "advice-sheet"

#: What ends every advice.
CALL = "Ask us when anything is unclear. What your dentist told you comes first."


def advice_after(plan: Plan, came_true: Container[str]) -> tuple[str, ...]:
    """Return the sentences whose every fact is among those that came true."""
    return tuple(each.text for each in plan.advice if all(fact in came_true for fact in each.after))


def words_for_the_patient(plan: Plan) -> frozenset[str]:
    """Return every sentence that reading out the advice can say. A patient hears them at rest:
    they are held to plain language, not to the eight words of a prompt at the chair."""
    texts = (*(each.text for each in plan.advice), CALL)
    return frozenset(one for text in texts for one in sentences(text))


def _ready(plan: Plan, handing: int) -> int:
    """The step after the last that brings about what step number `handing` needs."""
    needs = set(plan.steps[handing].needs)
    bringing = [at for at in range(handing) if needs & set(plan.steps[at].establishes)]
    return max(bringing, default=handing - 1) + 1


class Advising:
    """When the advice of one plan may be read out in a session, and what is then said."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        handing = [at for at, step in enumerate(plan.steps) if ADVICE_SHEET in step.hand]
        self._from = frozenset(
            step.id for at in handing[:1] for step in plan.steps[_ready(plan, at) :]
        )
        self._gained = {
            step.id: frozenset((*step.begin_establishes, *step.establishes)) for step in plan.steps
        }

    def due(self, state: SessionState) -> bool:
        """True once all is done that the step needs which hands the advice over, until the end;
        whoever takes that back is at an earlier step again.

        Not in an emergency: so many sentences would keep the ears from everything but stop words.
        """
        calm = state.live and state.mode is not Mode.EMERGENCY
        return calm and state.step in self._from

    def says(self, state: SessionState) -> tuple[Say, ...]:
        """Return the advice as it stands, a sentence each."""
        texts = (*advice_after(self._plan, self._came_true(state)), CALL)
        return tuple(Say(one) for text in texts for one in sentences(text))

    def _came_true(self, state: SessionState) -> frozenset[str]:
        """What holds, and what every step that is done brought about: the dam is off again, and
        the gum is sore all the same."""
        return state.facts.union(*(self._gained[step] for step in state.done))
