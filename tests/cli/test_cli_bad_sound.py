"""Recordings and microphones that cannot be used: one clear line, nothing stored."""

import struct
import wave
from pathlib import Path

import numpy as np
import pytest
import soundfile

from sidecue.devices.naming import Device
from sidecue.hearing import microphone
from sidecue.hearing.conditioning import to_mono_16k
from sidecue.speaking.voice import PyttsVoice

PHRASES = ("where are we", "identity confirmed")


@pytest.fixture(scope="module")
def speech():
    """What may be said at the first step, in our own voice, mono 16 kHz."""
    voice = PyttsVoice("gmw/en-US", words_per_minute=130, deadline=10.0)
    quiet = np.zeros(16_000 * 9, np.int16)  # our prompts are over by then
    parts = [quiet]
    try:
        for phrase in PHRASES:
            sound = voice.render(f"okay tray {phrase}")
            parts += [to_mono_16k(sound.samples, sound.rate), quiet]
    finally:
        voice.close()
    return np.concatenate(parts)


def verdicts(ran) -> list[str]:
    return [line[9:] for line in ran.out.splitlines() if line[9:].startswith(("hears", "ignores"))]


@pytest.fixture
def listen(sidecue):
    def run(path: Path):
        return sidecue("run", "--audio", path, "--mute")

    return run


def test_stereo_and_studio_rates_are_heard_like_mono_at_16_khz(listen, speech):
    soundfile.write("mono.wav", speech, 16_000)
    soundfile.write("stereo.wav", np.stack([speech, speech], axis=1), 16_000)
    plain = listen("mono.wav")
    assert plain.code == 1, plain.err  # the visit is not complete
    assert sum(line.startswith("hears") for line in verdicts(plain)) >= 1
    assert verdicts(listen("stereo.wav")) == verdicts(plain)
    studio = np.interp(np.arange(3 * len(speech)) / 3, np.arange(len(speech)), speech)
    soundfile.write("studio.wav", studio.astype(np.int16), 48_000)
    ran = listen("studio.wav")
    assert ran.code == 1, ran.err
    assert len(verdicts(ran)) == len(verdicts(plain))
    assert sum(line.startswith("hears") for line in verdicts(ran)) >= 1


def headed(path: Path, rate: int, data: bytes = bytes(32_000)) -> Path:
    """A WAV whose header claims `rate`."""
    head = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + len(data), b"WAVE", b"fmt ", 16,
                       1, 1, rate & 0xFFFFFFFF, (rate * 2) & 0xFFFFFFFF, 2, 16, b"data",
                       len(data))  # fmt: skip
    path.write_bytes(head + data)
    return path


@pytest.mark.parametrize("rate", [0, 1, 0xFFFFFFFF])
def test_a_header_with_a_rate_that_cannot_be_is_told(listen, stored, rate):
    assert "odd.wav: " in listen(headed(Path("odd.wav"), rate)).trouble
    assert not stored.exists()


def test_files_that_are_no_whole_recording_are_told(listen, stored, speech):
    soundfile.write("whole.wav", speech, 16_000)
    data = Path("whole.wav").read_bytes()
    for name, content, told in (
        ("empty.wav", b"", "the file is empty"),
        ("short.wav", data[: len(data) // 2], "cut short"),
        ("head.wav", data[:20], "no sound that can be read"),
        ("text.wav", b"not a sound\n" * 9, "no sound that can be read"),
    ):
        Path(name).write_bytes(content)
        line = listen(name).trouble
        assert name in line
        assert told in line
    with wave.open("none.wav", "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
    assert "holds no samples" in listen("none.wav").trouble
    assert "no such file" in listen("gone.wav").trouble
    Path("folder.wav").mkdir()
    assert "folder.wav" in listen("folder.wav").trouble
    assert not stored.exists()


def test_without_a_microphone_the_way_on_is_told(sidecue, stored, monkeypatch):
    monkeypatch.setattr(microphone, "input_devices", lambda: ())
    line = sidecue("run", "--mute").trouble
    assert "no microphone: none is there; plug one in" in line
    assert "--engine text" in line, "there is another way"
    assert not stored.exists()


def test_a_loudspeaker_is_never_taken_for_a_microphone(sidecue, monkeypatch):
    only = Device("Monitor of Speakers", "PulseAudio", 2, 44_100, True, True)
    monkeypatch.setattr(microphone, "input_devices", lambda: (only,))
    line = sidecue("run", "--mute").trouble
    assert "only monitors of loudspeakers are there (Monitor of Speakers)" in line


def test_a_microphone_of_another_name_is_told_with_those_there(sidecue, monkeypatch):
    desk = Device("Desk microphone", "PulseAudio", 1, 48_000, False, True)
    monkeypatch.setattr(microphone, "input_devices", lambda: (desk,))
    line = sidecue("run", "--mute", "--microphone", "headset").trouble
    assert "there are: Desk microphone" in line


def test_a_loudspeaker_that_is_not_there_is_told_and_nothing_stored(sidecue, stored):
    line = sidecue("run", "--engine", "text", "--loudspeaker", "no such loudspeaker").trouble
    assert "--mute" in line
    assert not stored.exists()


@pytest.mark.parametrize(
    ("choice", "told"),
    [
        (["--engine", "hearsay"], "auto, moonshine, pocketsphinx, vosk, text"),
        (["--script", "visit.txt"], "add --engine text"),
        (["--engine", "text", "--audio", "a.wav"], "leave --engine text away"),
        (["--engine", "vosk", "--model", "nowhere"], "no model 'nowhere'"),
        (["--engine", "text", "--script", "gone.txt"], "gone.txt:1: there is no such file"),
    ],
)
def test_choices_that_cannot_be_are_told(sidecue, stored, choice, told):
    assert told in sidecue("run", "--mute", *choice).trouble
    assert not stored.exists()


def test_a_line_of_a_script_that_cannot_be_read_is_told_with_its_number(sidecue, stored):
    Path("visit.txt").write_text("okay tray what comes next\n1:99 hello\n12.5 !!\n", "utf-8")
    line = sidecue("run", "--engine", "text", "--script", "visit.txt", "--mute").trouble
    assert "visit.txt:3" in line or "visit.txt:2" in line
    Path("visit.txt").write_bytes(b"\xff\xfe")
    assert (
        "not UTF-8" in sidecue("run", "--engine", "text", "--script", "visit.txt", "--mute").trouble
    )
    assert not stored.exists()
