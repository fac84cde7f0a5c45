"""A sound server of our own: two null sinks, and a microphone that can be unplugged."""

from __future__ import annotations

import ctypes.util
import os
import shutil
import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path

import numpy as np

RATE = 16_000
MICROPHONE = "desk_mic"  # hears what is played into the sink `room`
LOUDSPEAKER = "mouth"
_START_WITHIN = 30.0  # s: the machine may be busy
_SOUNDS = 100  # of int16: louder counts as sound
_CROSSING = 0.003  # s: a tone is this long near zero, a gap is longer


def missing() -> str:
    """Return the system program or library that is not here, if any."""
    for program in ("pulseaudio", "pactl", "parec", "pacat"):
        if shutil.which(program) is None:
            return f"{program} (packages pulseaudio, pulseaudio-utils)"
    if ctypes.util.find_library("portaudio") is None:
        return "PortAudio (package libportaudio2)"
    if not any(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA's PulseAudio plugin (package libasound2-plugins)"
    return ""


def sounding(samples: np.ndarray, rate: int = RATE) -> float:
    """Return how many seconds of sound are in int16 samples.

    Gaps are left out: a busy machine tears holes into what it plays, and loses nothing by it.
    """
    loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > _SOUNDS)
    steps = np.diff(loud)
    return float(np.sum(steps[steps <= _CROSSING * rate])) / rate


def sounding_in(path: Path) -> float:
    """Return how many seconds of sound are in a raw recording of `SoundRoom.listen` so far."""
    return sounding(np.fromfile(path, np.int16))


class SoundRoom:
    """`with SoundRoom(folder) as room`: sets this process's environment to its server."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._kept: dict[str, str | None] = {}
        self._server: subprocess.Popen[bytes] | None = None
        self._others: list[subprocess.Popen[bytes]] = []
        self._modules: dict[str, str] = {}

    def __enter__(self) -> SoundRoom:
        wanted = {
            "HOME": str(self._folder),
            "XDG_RUNTIME_DIR": str(self._folder),
            "PULSE_RUNTIME_PATH": str(self._folder / "pulse"),
            "PULSE_SERVER": None,
            "PULSE_SINK": None,
            "PULSE_SOURCE": None,
        }
        for name, value in wanted.items():
            self._kept[name] = os.environ.get(name)
            os.environ.pop(name, None)
            if value is not None:
                os.environ[name] = value
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        for name, value in self._kept.items():
            os.environ.pop(name, None)
            if value is not None:
                os.environ[name] = value

    def start(self) -> None:
        """Start the server, plug everything in."""
        self._server = subprocess.Popen(
            ["pulseaudio", "-n", "--exit-idle-time=-1", "--daemonize=no", "--use-pid-file=no",
             "-L", "module-native-protocol-unix auth-anonymous=1",
             "-L", "module-null-sink sink_name=room rate=16000 channels=1",
             "-L", "module-always-sink"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        end = time.monotonic() + _START_WITHIN
        while subprocess.run(["pactl", "info"], check=False, capture_output=True).returncode:
            assert time.monotonic() < end, "the sound server did not start"
            time.sleep(0.05)
        self.plug_loudspeaker()
        self.plug_microphone()
        # A room is never digitally silent: noise at -62 dBFS.
        hiss = self._folder / "hiss.raw"
        if not hiss.exists():
            draw = np.random.default_rng(62).standard_normal(RATE * 60) * 10 ** (-62 / 20) * 32768
            hiss.write_bytes(np.rint(draw).astype("<i2").tobytes())
        self._others.append(subprocess.Popen(
            ["sh", "-c", f"while cat '{hiss}'; do :; done | exec pacat -d room --raw"
             f" --rate={RATE} --channels=1 --format=s16le --latency-msec=30"],
            stderr=subprocess.DEVNULL, start_new_session=True,
        ))  # fmt: skip

    def stop(self) -> None:
        """End the server and everything that plays or listens."""
        for other in self._others:
            with suppress(ProcessLookupError):  # the hiss is a group of its own
                if os.getpgid(other.pid) == other.pid:
                    os.killpg(other.pid, signal.SIGKILL)
            other.kill()
            other.wait(timeout=5)
        self._others = []
        if self._server is not None:
            self._server.send_signal(signal.SIGTERM)
            self._server.wait(timeout=_START_WITHIN)
            self._server, self._modules = None, {}

    def pactl(self, *words: str) -> str:
        """Ask the server."""
        ran = subprocess.run(
            ["pactl", *words], check=True, capture_output=True, timeout=_START_WITHIN
        )
        return ran.stdout.decode().strip()

    def plug_microphone(self, *, extra: bool = False) -> None:
        """Plug it in; with `extra`, something else comes first, so that numbers change."""
        if extra:
            self._modules["other"] = self.pactl(
                "load-module", "module-remap-source", "source_name=other", "master=room.monitor"
            )
        self._modules["microphone"] = self.pactl(
            "load-module", "module-remap-source", f"source_name={MICROPHONE}",
            "master=room.monitor", "source_properties=device.description=Desk_microphone",
        )  # fmt: skip

    def unplug_microphone(self) -> None:
        """Pull it out, and what was plugged in before it."""
        for name in ("microphone", "other"):
            if module := self._modules.pop(name, ""):
                self.pactl("unload-module", module)

    def plug_loudspeaker(self) -> None:
        """Plug it in, with somebody in the room: a null sink nobody hears takes two seconds."""
        self._modules["loudspeaker"] = self.pactl(
            "load-module", "module-null-sink", f"sink_name={LOUDSPEAKER}", "rate=16000",
            "channels=1", "sink_properties=device.description=Ceiling_speaker",
        )  # fmt: skip
        self.listen("present.raw")

    def unplug_loudspeaker(self) -> None:
        """Pull it out."""
        self.pactl("unload-module", self._modules["loudspeaker"])

    def listen(self, name: str) -> Path:
        """Record what the loudspeaker plays, raw 16 kHz mono, to a file that is returned. It runs
        once this returns."""
        path = self._folder / name
        with path.open("wb") as file:
            words = ["parec", "-d", f"{LOUDSPEAKER}.monitor", f"--rate={RATE}", "--channels=1"]
            words += ["--format=s16le", "--latency-msec=10"]
            self._others.append(subprocess.Popen(words, stdout=file, stderr=subprocess.DEVNULL))
        end = time.monotonic() + _START_WITHIN
        while not path.stat().st_size:
            assert time.monotonic() < end, "nothing arrives from the monitor"
            time.sleep(0.02)
        return path

    def play_file(self, path: Path) -> subprocess.Popen[bytes]:
        """Play raw 16 kHz mono into the room; return the player."""
        player = subprocess.Popen(
            ["pacat", "-d", "room", "--raw", f"--rate={RATE}", "--channels=1", "--format=s16le",
             "--latency-msec=30", str(path)], stderr=subprocess.DEVNULL,
        )  # fmt: skip
        self._others.append(player)
        return player

    def play(self, samples: np.ndarray) -> subprocess.Popen[bytes]:
        """Play int16 samples of 16 kHz into the room; return the player."""
        path = self._folder / "said.raw"
        path.write_bytes(samples.astype("<i2").tobytes())
        return self.play_file(path)
