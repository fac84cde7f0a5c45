"""The voice: text to samples through pyttsx3, in a child with a deadline."""

from __future__ import annotations

import json
import re
import tempfile
import threading
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from sidecue.devices.child import Child, ChildGoneError
from sidecue.devices.frames import Kind
from sidecue.speaking.phones import in_codes
from sidecue.speaking.phrasing import Run, runs
from sidecue.speaking.port import Sound, VoiceError

RATE = 22_050  # what eSpeak NG renders at, Hz
LEAD = 0.04  # silence before the first syllable, s: a waking output swallows the first samples
TAIL = 0.06  # silence after the last, s
RUN_GAP = 0.05  # between words and a number, s
_START_DEADLINE = 15.0
_TRIES = 2
_QUIET = 10 ** (-60 / 20)  # of full scale: below it counts as silence when trimming
_SCALE = 0.94  # eSpeak's rate for one word a minute: measured over the prompts of flows/
_LONGEST = 400  # characters; a prompt is eight words
_WORDS = re.compile("[A-Za-z0-9]")  # these make a sound; signs alone need not

_MEND = "run `sidecue doctor`; the voice comes with the espeakng-loader and pyttsx3 packages"


def _padded(body: Sequence[npt.NDArray[np.int16]], text: str) -> Sound:
    lead, tail = (np.zeros(round(pad * RATE), np.int16) for pad in (LEAD, TAIL))
    return Sound(np.concatenate([lead, *body, tail]), RATE, text)


class PyttsVoice:
    """Renders prompts, one after another, in one warm child process.

    `voice` is a voice of eSpeak NG. Voice-prompt practice is 150-170 words a minute, digits
    slower.

    `deadline` is how long one prompt may take, in seconds; a child that is later is killed and
    started afresh, and the prompt is tried once more. Thread-safe. Satisfies `Voice`.
    """

    def __init__(
        self,
        voice: str = "gmw/en",
        words_per_minute: int = 160,
        numbers_per_minute: int = 130,
        deadline: float = 2.0,
        child_module: str = "sidecue.speaking.render_child",
    ) -> None:
        self.voice = voice
        self.words_per_minute = words_per_minute
        self.numbers_per_minute = numbers_per_minute
        self.deadline = deadline
        self._module = child_module
        self._lock = threading.Lock()
        self._child: Child | None = None
        self._closed = False
        # Goes with this object, and at the end of the process, also where nobody closes it.
        self._folder = tempfile.TemporaryDirectory(
            prefix="sidecue-voice-", ignore_cleanup_errors=True
        )
        self.starts = 0  # how often a child was started
        self.library = ""  # path of the speech library in use, once started

    @property
    def signature(self) -> str:
        """What, besides the text, decides how a prompt sounds; the cache's key."""
        rates = f"{self.words_per_minute}/{self.numbers_per_minute}"
        return f"pyttsx3/espeak {self.voice} {rates} {LEAD} {TAIL} {RUN_GAP} 2"

    def warm(self) -> None:
        """Start the child now, so that the first prompt doesn't wait for it."""
        with self._lock:
            self._started()

    def render(self, text: str) -> Sound:
        """Return `text` as mono int16 sound at 22,050 Hz, padded by LEAD and TAIL of silence.

        Raises VoiceError when the text is empty or unspeakable, or the engine failed twice.
        """
        if not text.strip():
            raise VoiceError("there is nothing to say: the prompt is empty; give it words")
        if len(text) > _LONGEST:
            raise VoiceError(f"the prompt is {len(text)} characters long; keep it to eight words")
        with self._lock:
            parts = [self._run(run) for run in runs(text)]
        gap = np.zeros(round(RUN_GAP * RATE), np.int16)
        body: list[npt.NDArray[np.int16]] = []
        for part in (part for part in parts if len(part)):
            body += [gap, part] if body else [part]
        if not body:
            raise VoiceError(f"the prompt {text!r} came out silent; write it as words")
        return _padded(body, text)

    def render_phones(self, phones: Sequence[str]) -> Sound:
        """Return ARPAbet `phones` as sound, padded like a prompt. Raises VoiceError."""
        with self._lock:
            body = self._run(Run(in_codes(phones), value=False))
        if not len(body):
            raise VoiceError(f"the phones {' '.join(phones)} came out silent; check them")
        return _padded([body], " ".join(phones))

    def close(self) -> None:
        """End the child and remove its folder. Safe to call twice."""
        with self._lock:
            self._closed = True
            self._stop()
            self._folder.cleanup()

    def _run(self, run: Run) -> npt.NDArray[np.int16]:
        pace = self.numbers_per_minute if run.value else self.words_per_minute
        rate = round(pace * _SCALE)
        request = json.dumps({"text": run.text, "rate": rate, "voice": self.voice}).encode()
        why = ""
        for _ in range(_TRIES):
            child = self._started()
            try:
                child.send(Kind.RENDER, request)
                frame = child.receive(self.deadline)
            except ChildGoneError:
                why = "the speech engine crashed"
            else:
                if frame is not None and frame[0] is not Kind.SOUND:
                    message = frame[1].decode(errors="replace")
                    raise VoiceError(f"cannot say {run.text!r}: {message}; {_MEND}")
                if frame is None:
                    why = f"the speech engine gave nothing within {self.deadline:g} s"
                else:
                    samples = self._trimmed(self._samples(frame[1]))
                    if len(samples) or not _WORDS.search(run.text):
                        return samples
                    why = "the speech engine made words into silence"
            self._stop()
        raise VoiceError(f"cannot say {run.text!r}: {why}, twice; {_MEND}")

    def _started(self) -> Child:
        if self._closed:
            raise VoiceError("the voice is closed; start the session again")
        if self._child is not None:
            return self._child
        self._child = child = Child(self._module, self._folder.name)
        self.starts += 1
        try:
            frame = child.receive(_START_DEADLINE)
        except ChildGoneError:
            frame = (Kind.FAULT, b"the speech engine ended while starting")
        if frame is None:
            frame = (Kind.FAULT, f"the speech engine took over {_START_DEADLINE:g} s".encode())
        if frame[0] is not Kind.READY:
            self._stop()
            raise VoiceError(f"there is no voice: {frame[1].decode(errors='replace')}; {_MEND}")
        self.library = json.loads(frame[1]).get("library", "")
        return child

    def _stop(self) -> None:
        if self._child is not None:
            self._child.kill()
            self._child = None

    @staticmethod
    def _samples(payload: bytes) -> npt.NDArray[np.int16]:
        rate = int.from_bytes(payload[:4], "little")
        if rate != RATE:
            raise VoiceError(f"the speech engine renders at {rate} Hz, not {RATE}; {_MEND}")
        return np.frombuffer(payload[4:], np.int16)

    @staticmethod
    def _trimmed(samples: npt.NDArray[np.int16]) -> npt.NDArray[np.int16]:
        loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > _QUIET * 32768)
        if not len(loud):
            return samples[:0]
        return samples[loud[0] : loud[-1] + 1]
