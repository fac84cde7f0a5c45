"""Reading aloud: one line after another, each to its end."""

from __future__ import annotations

import time
from typing import Self

from sidecue.speaking.cache import CachedVoice, default_folder
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker
from sidecue.speaking.port import Loudspeaker, Sound
from sidecue.speaking.voice import PyttsVoice

DEADLINE = 10.0  # seconds to render one line: a lesson's lines are longer than prompts


class Reader:
    """A voice with the loudspeaker named `loudspeaker` (empty: the system's choice; None: none).

    Raises VoiceError when there is no such loudspeaker.
    """

    def __init__(self, loudspeaker: str | None) -> None:
        self._speaker: Loudspeaker | None = None
        if loudspeaker is not None:
            self._speaker = PortAudioLoudspeaker(loudspeaker)
        self._voice = CachedVoice(PyttsVoice(deadline=DEADLINE), default_folder())

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *why: object) -> None:
        if self._speaker is not None:
            self._speaker.close()
        self._voice.close()

    def render(self, text: str) -> Sound:
        """Return `text` as sound. Raises VoiceError."""
        return self._voice.render(text)

    def say(self, text: str) -> None:
        """Say `text` and return when it has been heard; without a loudspeaker, at once."""
        if self._speaker is None:
            return
        now = time.monotonic()
        ends = self._speaker.play(self.render(text), now)
        time.sleep(max(0.0, ends - time.monotonic()))
