"""Rendered prompts kept: in memory always, in a folder when one is given.

A file's name is the hash of everything that decides its sound, so a changed voice or rate
never finds the old one. The folder holds the tool's own prompts only, never anything heard.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
import threading
import wave
from collections import OrderedDict
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from time import monotonic
from typing import Protocol

import numpy as np
from platformdirs import user_cache_path

from sidecue.speaking.port import Sound, Voice, VoiceError

_MEMORY_BYTES = 24 * 2**20  # some 200 prompts
_FOLDER_BYTES = 96 * 2**20  # a visit's 700 prompts are some 70
_REST = 3.0  # times as long as the last prompt took


class SignedVoice(Voice, Protocol):
    """A voice that can say what decides its sound."""

    @property
    def signature(self) -> str:
        """Changes whenever the same text would sound different."""
        ...


def default_folder() -> Path:
    """Where prompts are kept on this machine."""
    return user_cache_path("sidecue") / "prompts"


class CachedVoice:
    """Wraps a voice; the same text is rendered once. Thread-safe. Satisfies `Voice`.

    A folder that cannot be read or written costs only speed: `folder_fault` says why, and
    prompts are then kept in memory. A damaged file is rendered again.
    """

    def __init__(self, voice: SignedVoice, folder: Path | None = None) -> None:
        self._voice = voice
        self._folder = folder
        self._kept: OrderedDict[str, Sound] = OrderedDict()
        self._bytes = 0
        self._lock = threading.Lock()
        self._closing = threading.Event()
        self.folder_fault = ""
        if folder is not None:
            self._prune(folder)

    @property
    def signature(self) -> str:
        """That of the voice behind."""
        return self._voice.signature

    def render(self, text: str) -> Sound:
        """Return `text` as sound, rendering only what was never rendered. Raises VoiceError."""
        with self._lock:
            if (sound := self._kept.get(text)) is not None:
                self._kept.move_to_end(text)
                return sound
        if (sound := self._from_folder(text)) is None:
            return self._rendered(text, keep=True)
        with self._lock:
            self._keep(text, sound)
        return sound

    def prepare(self, texts: Iterable[str]) -> None:
        """Render `texts` in the background, in order, each only if it is not kept yet: a quarter
        of the time, so that what has to be said meanwhile never waits for long.

        What cannot be said is told when it is needed. Without a folder it ends when the memory is
        full, for what was rendered first is needed first.
        """
        threading.Thread(target=self._prepare, args=(texts,), name="prompts", daemon=True).start()

    def _prepare(self, texts: Iterable[str]) -> None:
        for text in texts:
            begun = monotonic()
            if self._folder is None and self._bytes > _MEMORY_BYTES * 3 // 4:
                return
            if not self._is_kept(text):
                with suppress(VoiceError):
                    self._rendered(text, keep=self._folder is None)
            if self._closing.wait(_REST * (monotonic() - begun)):
                return

    def _is_kept(self, text: str) -> bool:
        with self._lock:
            if text in self._kept:
                return True
        folder = self._folder  # another thread may give it up meanwhile
        return folder is not None and self._path(folder, text).is_file()

    def _rendered(self, text: str, *, keep: bool) -> Sound:
        sound = self._voice.render(text)
        self._to_folder(sound)
        if keep or self._folder is None:
            with self._lock:
                self._keep(text, sound)
        return sound

    def close(self) -> None:
        """Close the voice behind. Safe to call twice."""
        self._closing.set()
        self._voice.close()

    def _keep(self, text: str, sound: Sound) -> None:
        if text in self._kept:
            return
        self._kept[text] = sound
        self._bytes += sound.samples.nbytes
        while self._bytes > _MEMORY_BYTES and len(self._kept) > 1:
            _, oldest = self._kept.popitem(last=False)
            self._bytes -= oldest.samples.nbytes

    def _path(self, folder: Path, text: str) -> Path:
        name = hashlib.sha256(f"{self._voice.signature}\0{text}".encode()).hexdigest()
        return folder / f"{name}.wav"

    def _from_folder(self, text: str) -> Sound | None:
        folder = self._folder
        if folder is None:
            return None
        path = self._path(folder, text)
        try:
            with wave.open(str(path), "rb") as file:
                count = file.getnframes()
                shape = (file.getnchannels(), file.getsampwidth())
                samples = np.frombuffer(file.readframes(count), np.int16)
                rate = file.getframerate()
        except FileNotFoundError:
            return None
        except (OSError, EOFError, ValueError, wave.Error):
            return None  # damaged: rendered again and replaced
        if shape != (1, 2) or not count or len(samples) != count:
            return None
        return Sound(samples, rate, text)

    def _to_folder(self, sound: Sound) -> None:
        folder = self._folder
        if folder is None:
            return
        try:
            folder.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=folder, suffix=".part")
            try:
                with os.fdopen(handle, "wb") as raw, wave.open(raw, "wb") as file:
                    file.setnchannels(1)
                    file.setsampwidth(2)
                    file.setframerate(sound.rate)
                    file.writeframes(sound.samples.tobytes())
                Path(name).replace(self._path(folder, sound.text))  # whole or not at all
            except BaseException:
                Path(name).unlink(missing_ok=True)
                raise
        except OSError as error:
            self.folder_fault = f"{folder}: {error.strerror}; prompts are kept in memory only"
            self._folder = None

    def _prune(self, folder: Path) -> None:
        """Drop the longest unused files above the folder's share, and half-written ones."""
        try:
            files = [(path.stat(), path) for path in folder.glob("*.wav")]
            for path in folder.glob("*.part"):
                path.unlink(missing_ok=True)
            total = sum(stat.st_size for stat, _ in files)
            for stat, path in sorted(files, key=lambda pair: pair[0].st_atime):
                if total <= _FOLDER_BYTES:
                    break
                path.unlink(missing_ok=True)
                total -= stat.st_size
        except OSError as error:
            self.folder_fault = f"{folder}: {error.strerror}; prompts are kept in memory only"
            self._folder = None
