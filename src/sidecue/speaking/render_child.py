"""The child that renders: pyttsx3's eSpeak driver, writing to a file and never playing.

Run as `python -m sidecue.speaking.render_child FOLDER`; frames on stdin and stdout. pyttsx3's
own playback can be neither stopped nor timed, and its run loop may not return, so it runs here,
where the parent can end it (see its threads #440, #403, #138).
"""

from __future__ import annotations

import ctypes
import json
import os
import signal
import sys
import wave
from pathlib import Path
from typing import BinaryIO

from sidecue.devices.frames import Kind, read_frame, write_frame


def _load_library() -> str:
    """Make the library of the espeakng-loader wheel the one pyttsx3 finds; return its path.

    pyttsx3 asks the system's linker for a bare library name. A library already loaded under
    that name wins, so no system package is needed, and one that is there is not mixed in.
    """
    import espeakng_loader

    path: str = espeakng_loader.get_library_path()
    ctypes.CDLL(path, mode=ctypes.RTLD_GLOBAL)
    os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
    return path


class Engine:
    """pyttsx3's engine, one text at a time.

    Left to the driver, eSpeak synthesises on a thread of its own, and now and then takes itself
    for idle with a rate or voice still to be set, which then falls on the wrong text or silences
    it (seen: one first text in some thousands). So it is asked to work in step with its caller.
    """

    def __init__(self, target: Path) -> None:
        import pyttsx3
        from pyttsx3.drivers import _espeak

        _open = _espeak.Initialize
        _espeak.Initialize = lambda _, length: _open(_espeak.AUDIO_OUTPUT_SYNCHRONOUS, length)
        _hear = _espeak.SetSynthCallback
        ended = (_espeak.EVENT * 2)()
        ended[0].type = _espeak.EVENT_MSG_TERMINATED
        # In step eSpeak ends a text with no samples, and not with the event the driver looks for.
        _espeak.SetSynthCallback = lambda hear: _hear(
            lambda samples, count, events: hear(samples, count, events if samples else ended)
        )
        _say = _espeak.Synth
        # Phoneme codes in double brackets are said; the driver's own flags would read them out.
        _espeak.Synth = lambda text, flags: _say(text, flags=flags | _espeak.PHONEMES)
        self._target = target
        self._engine = pyttsx3.init("espeak")
        self._fault: Exception | None = None
        self._engine.connect("error", self._on_error)

    def render(self, text: str, rate: int, voice: str) -> tuple[int, bytes]:
        """Return the rate in Hz and the int16 samples of `text`. May hang: have a deadline."""
        self._target.unlink(missing_ok=True)
        self._fault = None
        self._engine.setProperty("voice", voice)
        self._engine.setProperty("rate", rate)
        self._engine.save_to_file(text, str(self._target))
        self._engine.runAndWait()
        if self._fault is not None:
            raise self._fault
        with wave.open(str(self._target), "rb") as sound:
            return sound.getframerate(), sound.readframes(sound.getnframes())

    def _on_error(self, exception: Exception, **_: object) -> None:
        self._fault = exception


def main() -> None:
    """Render until the input closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when we end
    stdin, stdout = sys.stdin.buffer, _own_stdout()
    target = Path(sys.argv[1]) / "prompt.wav"
    try:
        library = _load_library()
        engine = Engine(target)
    except Exception as error:  # noqa: BLE001  whatever is missing, the parent has to be told
        write_frame(stdout, Kind.FAULT, f"{type(error).__name__}: {error}".encode())
        return
    write_frame(stdout, Kind.READY, json.dumps({"library": library}).encode())
    while (frame := read_frame(stdin)) is not None:
        try:
            rate, samples = engine.render(**json.loads(frame[1]))
        except Exception as error:  # noqa: BLE001  one bad prompt must not end the voice
            write_frame(stdout, Kind.FAULT, f"{type(error).__name__}: {error}".encode())
            continue
        write_frame(stdout, Kind.SOUND, rate.to_bytes(4, "little") + samples)


def _own_stdout() -> BinaryIO:
    """Keep the pipe for frames: pyttsx3 prints a line for every file it writes."""
    pipe = os.fdopen(os.dup(1), "wb")
    null = os.open(os.devnull, os.O_WRONLY)
    os.dup2(null, 1)
    os.close(null)
    return pipe


if __name__ == "__main__":
    main()
