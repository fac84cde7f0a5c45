"""The mouth: carries out what the session says to say, through one voice and one loudspeaker."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

from sidecue.session.effects import Chime, ChimeKind, Effect, Say, Silence, Urgency
from sidecue.speaking.chimes import chime
from sidecue.speaking.port import Loudspeaker, Sound, Voice, VoiceError
from sidecue.speaking.precedence import Item, decide

#: Seconds for which what was said may still be in what is being judged.
RECENTLY = 3.0


class Mouth:
    """Decides with `precedence`, renders with `voice`, plays on `loudspeaker`.

    Called from one thread. A prompt that cannot be rendered, or a loudspeaker that cannot be
    written, never stops the session: `on_fault` is told, and the "due" chime stands for a
    caution or an alarm that could not be said.
    """

    def __init__(
        self,
        voice: Voice,
        loudspeaker: Loudspeaker,
        on_fault: Callable[[str], None] = lambda message: None,
    ) -> None:
        self._voice = voice
        self._loudspeaker = loudspeaker
        self._on_fault = on_fault
        self._queue: list[Item] = []
        self._said: list[tuple[str, float]] = []  # texts, and when their playback ends

    def carry_out(self, effects: Iterable[Effect], now: float) -> float:
        """Carry out the effects of one step at session time `now`; return when playback ends."""
        effects = tuple(effects)
        verdict = decide(self._queue, effects, now)
        # Who says stop is obeyed before any rendering. Words that cut others are rendered first,
        # so that they follow without a gap; what comes after them is rendered while they play.
        stop = any(isinstance(effect, Silence) for effect in effects)
        first = [] if stop else [self._sound(item) for item in verdict.play[:1]]
        try:
            if verdict.silence:
                self._loudspeaker.silence(now)
                self._queue = []
            elif verdict.drop_last:
                self._loudspeaker.drop_last(verdict.drop_last, now)
                self._queue = self._queue[: -verdict.drop_last]
            self._queue = [item for item in self._queue if item.ends > now]
            for place, item in enumerate(verdict.play):
                sound = first[place] if place < len(first) else self._sound(item)
                if sound is not None:
                    ends = self._loudspeaker.play(sound, now)
                    self._queue.append(replace(item, starts=ends - sound.lasts, ends=ends))
                    self._said = [each for each in self._said if each[1] > now - RECENTLY]
                    self._said += [(item.what.text, ends)] if isinstance(item.what, Say) else []
        except VoiceError as error:
            self._on_fault(str(error))
        return self._loudspeaker.busy_until(now)

    def busy_until(self, now: float) -> float:
        """When playback ends; `now` when nothing plays."""
        return self._loudspeaker.busy_until(now)

    def saying(self, now: float) -> tuple[str, ...]:
        """What is said or to be said now, and what was until `RECENTLY` ago."""
        return tuple(text for text, ends in self._said if ends > now - RECENTLY)

    @property
    def present(self) -> bool:
        """Whether the loudspeaker is there; one without a device always is."""
        return bool(getattr(self._loudspeaker, "present", True))

    def close(self) -> None:
        """Release voice and loudspeaker. Safe to call twice."""
        try:
            self._loudspeaker.close()
        finally:
            self._voice.close()

    def _sound(self, item: Item) -> Sound | None:
        if isinstance(item.what, Chime):
            return chime(item.what.kind)
        try:
            return self._voice.render(item.what.text)
        except VoiceError as error:
            self._on_fault(str(error))
            return None if item.urgency is Urgency.ROUTINE else chime(ChimeKind.DUE)
