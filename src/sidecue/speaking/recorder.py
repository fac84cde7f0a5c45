"""A loudspeaker that writes to a WAV what would have been heard, and when."""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np

from sidecue.speaking.convert import at_rate
from sidecue.speaking.port import Sound, VoiceError
from sidecue.speaking.timeline import Slot, Timeline

RATE = 22_050
_SILENT_CHUNK = RATE  # gaps are written a second at a time, so an hour needs no memory


class FileLoudspeaker:
    """Writes everything said on the session's timeline to a mono 22,050 Hz WAV.

    `origin` is the session time of the file's first sample; without one, the first sound begins
    the file. What `silence` cut off is missing from the file, as it was from the room. Written
    as time passes: a killed session leaves a readable file. Satisfies `Loudspeaker`.
    """

    def __init__(self, path: Path, origin: float | None = None) -> None:
        self._path = path
        self._origin = origin
        self._timeline = Timeline()
        self._written = 0
        self._closed = False
        try:
            self._raw = path.open("wb")
        except OSError as error:
            raise VoiceError(
                f"{path}: cannot write what is said: {error.strerror}; choose another file"
            ) from error
        self._file = wave.Wave_write(self._raw)
        self._file.setnchannels(1)
        self._file.setsampwidth(2)
        self._file.setframerate(RATE)

    def play(self, sound: Sound, now: float) -> float:
        """Queue `sound`. Raises VoiceError when the file cannot be written (disk full)."""
        self._write(self._timeline.take_ended(now))
        slot = self._timeline.add(sound, now)
        if self._origin is None:
            self._origin = slot.starts
        return slot.ends

    def silence(self, now: float) -> None:
        """Cut what sounds at `now` and drop the rest."""
        self._timeline.cut(now)
        self._write(self._timeline.take_ended(now))

    def drop_last(self, count: int, now: float) -> None:
        """Drop the `count` sounds queued last; one of them that has begun is cut."""
        self._write(self._timeline.take_ended(now))
        self._timeline.drop_last(count, now)

    def busy_until(self, now: float) -> float:
        """When the last sound ends."""
        return self._timeline.busy_until(now)

    def close(self) -> None:
        """Write what is queued and close the file. Safe to call twice."""
        if self._closed:
            return
        self._closed = True
        try:
            self._write(self._timeline.take_all())
        finally:
            try:
                self._file.close()
                self._raw.close()
            except OSError as error:
                raise self._fault(error) from error

    def _write(self, slots: list[Slot]) -> None:
        try:
            for slot in slots:
                begin = round((slot.starts - (self._origin or 0.0)) * RATE)
                samples = at_rate(slot.sound, RATE)[: round((slot.ends - slot.starts) * RATE)]
                while (gap := begin - self._written) > 0:
                    self._append(np.zeros(min(gap, _SILENT_CHUNK), np.int16))
                self._append(samples[max(0, -gap) :])  # sound before the origin is left out
        except OSError as error:
            raise self._fault(error) from error

    def _append(self, samples: np.ndarray[tuple[int], np.dtype[np.int16]]) -> None:
        if len(samples):
            self._file.writeframes(samples.astype("<i2").tobytes())
            self._written += len(samples)

    def _fault(self, error: OSError) -> VoiceError:
        return VoiceError(f"{self._path}: cannot write what is said: {error.strerror}; free space")
