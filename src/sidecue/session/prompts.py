"""The session's own sentences: templates are data in the plan, filled in here."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from sidecue.procedure.plan import Plan, Step
from sidecue.procedure.words import MOST_WORDS
from sidecue.session.effects import Say, Urgency
from sidecue.session.state import RunningTimer, SessionState
from sidecue.session.timers import Ring

KEYS = frozenset({
    "hand", "paused", "resumed", "restarted", "finished", "emergency-over", "ask-emergency-over",
    "ask-skip", "ask-jump", "ask-happening", "lapsed", "denied", "skipped", "cannot-skip",
    "cannot-skip-begun", "undone", "undone-physical", "nothing-to-undo", "missing", "begin-first",
    "wait", "wait-one", "timer-warn", "timer-ripe", "timer-over", "timer-left", "timer-late",
    "timer-none",
    "ask-value", "recorded", "differs", "disagrees", "value-undone", "value-restored",
    "ask-strike", "struck", "count", "count-agent", "count-mixed", "count-no-weight",
    "count-no-limit", "over-limit", "over-agent", "next", "next-none", "tooth", "status",
    "device-lost", "device-back",
})  # fmt: skip

_SENTENCE_END = re.compile(r"(?<=[.?!]) ")


def short_name(identifier: str) -> str:
    """Return a step's or timer's id as spoken words: `etch-enamel` is "etch enamel"."""
    return identifier.replace("-", " ")


def spoken(text: str) -> tuple[str, ...]:
    """Return `text` as prompts: whole when it is short, else one for each of its sentences.

    A prompt has at most eight words; a template that carries another prompt becomes two.
    """
    if len(text.split()) <= MOST_WORDS:
        return (text,)
    return sentences(text)


def sentences(text: str) -> tuple[str, ...]:
    """Return `text` as its sentences."""
    return tuple(_SENTENCE_END.split(text))


def lasts_about(text: str) -> float:
    """Return about how many seconds saying `text` takes: at the prompts' 150 words a minute, and
    the pauses around. The machine hears no sound, and a question must not lapse while asked."""
    return 1.0 + 0.4 * len(text.split())


class Prompter:
    """Fills the plan's own templates. Raises KeyError for a key the plan does not carry."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._templates: Mapping[str, str] = dict(plan.prompts)

    def tooth(self) -> tuple[str, ...]:
        """Return the agreed tooth as prompts: its number, and its place apart where both together
        are too long (a primary molar)."""
        spoken_tooth = self._plan.tooth_spoken
        whole = self.text("tooth", tooth=spoken_tooth)
        if len(whole.split()) <= MOST_WORDS:
            return (whole,)
        number, _, place = spoken_tooth.partition(", ")
        return self.text("tooth", tooth=number), f"{place[:1].upper()}{place[1:]}."

    def text(self, key: str, **words: str) -> str:
        """Return the sentence `key` with `words` filled in."""
        return self._templates[key].format(**words)

    def hand_over(self, step: Step) -> str | None:
        """Return what to hand for `step`, as one sentence, or None when nothing is handed."""
        names = [self._plan.tray_by_id[item].spoken for item in step.hand]
        if not names:
            return None
        items = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        return self.text("hand", items=items)

    def wait(self, seconds: float) -> str:
        """Return how long to wait, in whole seconds rounded up."""
        whole = math.ceil(seconds - 1e-9)
        return self.text("wait-one") if whole <= 1 else self.text("wait", seconds=str(whole))

    def announce(self, step: Step, came_from: Step | None) -> tuple[Say, ...]:
        """Return what is said on reaching `step`: what to do, what to hand, what to watch.

        What the step before already handed or warned of is not said again.
        """
        said = [Say(step.say)]
        hand_over = self.hand_over(step)
        if hand_over is not None and (came_from is None or came_from.hand != step.hand):
            said.append(Say(hand_over))
        known = () if came_from is None else came_from.cautions
        said += [
            Say(self._plan.caution_by_id[caution].say, Urgency.CAUTION)
            for caution in step.cautions
            if caution not in known
        ]
        return tuple(said)

    def ring(self, timer: RunningTimer, ring: Ring, now: float) -> str:
        """Return what is said when `timer` rings at `now`."""
        name = short_name(timer.spec.name).capitalize()
        if ring is not Ring.WARN:
            return self.text(f"timer-{ring.value}", name=name)
        end = timer.spec.most or timer.least or 0.0
        left = max(0, round(timer.started + end - now))
        return self.text("timer-warn", name=name, seconds=str(left))

    def time_left(self, state: SessionState) -> tuple[Say, ...]:
        """Return how long each running timer still has to its next end, or is past its last."""
        said = tuple(Say(self._left(timer, state.now)) for timer in state.timers)
        return said or (Say(self.text("timer-none")),)

    def _left(self, timer: RunningTimer, now: float) -> str:
        name, elapsed = short_name(timer.spec.name).capitalize(), now - timer.started
        ends = [end for end in (timer.least, timer.spec.most) if end and end > elapsed]
        if ends:
            seconds = str(round(min(ends) - elapsed))
            return self.text("timer-left", name=name, seconds=seconds)
        if timer.spec.most is None:
            return self.text("timer-ripe", name=name)
        seconds = str(round(elapsed - timer.spec.most))
        return self.text("timer-late", name=name, seconds=seconds)
