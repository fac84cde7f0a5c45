"""The voice: prompts become samples, in time, on a machine with no speech package installed."""

import gc
import os
import signal
import sys
import tempfile
import time
from pathlib import Path

import espeakng_loader
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sidecue.devices.child import Child, ChildGoneError
from sidecue.speaking.phrasing import Run, runs
from sidecue.speaking.port import Sound, VoiceError
from sidecue.speaking.voice import LEAD, RATE, TAIL, PyttsVoice

pytestmark = pytest.mark.xdist_group("sound")  # it waits for children, and counts how long

FLOWS = Path(__file__).parents[2] / "flows"
PROMPTS = [
    "Etch enamel first, then dentine.",
    "Place the wedge from the wider side.",
    "Record the shade before drying the tooth.",
    "Tie floss to the clamp before seating.",
    "Check contact with floss before finishing.",
]


def shipped_prompts():
    """Every other step prompt of the shipped procedures that has no blank to fill."""
    lines = [
        line.strip().removeprefix("say:").strip().strip("'\"")
        for file in sorted(FLOWS.glob("p*/*.yaml"))
        for line in file.read_text().splitlines()
        if line.strip().startswith("say:") and "{" not in line
    ]
    return [line for line in lines if len(line.split()) <= 8][::2]


@pytest.fixture(scope="module")
def voice():
    made = PyttsVoice(deadline=20.0)  # the machine may be busy; a restart would be counted
    yield made
    made.close()


def test_a_prompt_becomes_mono_int16_sound_at_22050_hz(voice):
    sound = voice.render(PROMPTS[0])
    assert sound.samples.dtype == np.int16
    assert sound.samples.ndim == 1
    assert sound.rate == 22_050
    assert sound.text == PROMPTS[0]
    assert np.abs(sound.samples.astype(int)).max() > 3000


def test_the_second_utterance_is_heard_like_the_first(voice):
    # pyttsx3 threads #440 and #403: only the first is heard, or the run loop never returns.
    lengths = [voice.render(PROMPTS[1]).lasts for _ in range(5)]
    assert max(lengths) - min(lengths) < 0.02
    assert voice.starts == 1


def test_one_warm_child_serves_many_prompts(voice):
    for number in range(40):
        assert voice.render(f"Hand instrument number {number}.").lasts > 0.8
    assert voice.starts == 1


def test_silence_around_a_prompt_is_trimmed_to_the_known_pad(voice):
    for prompt in PROMPTS:
        samples = voice.render(prompt).samples
        loud = np.flatnonzero(np.abs(samples.astype(int)) > 33)
        assert loud[0] == pytest.approx(LEAD * RATE, abs=2)
        assert len(samples) - 1 - loud[-1] == pytest.approx(TAIL * RATE, abs=2)


def test_prompts_are_read_at_about_160_words_a_minute(voice):
    # voice-prompt practice: 150-170 words a minute; pads are not counted
    prompts = shipped_prompts()
    assert len(prompts) >= 50
    words = sum(len(prompt.split()) for prompt in prompts)
    spoken = sum(voice.render(prompt).lasts - LEAD - TAIL for prompt in prompts)
    assert 150 <= words / spoken * 60 <= 170


def test_no_shipped_prompt_takes_twice_as_long_as_a_prompt_should(voice):
    # voice-prompt practice: at most eight words or 2.5 s
    longest = max((voice.render(prompt) for prompt in shipped_prompts()), key=lambda s: s.lasts)
    assert longest.lasts < 5.0, longest.text


def test_numbers_are_read_slower_than_words():
    even = PyttsVoice(numbers_per_minute=160)
    slow = PyttsVoice()
    try:
        for text in ("Rinse for 20 seconds.", "Treat tooth four six."):
            assert slow.render(text).lasts > even.render(text).lasts * 1.03
    finally:
        even.close()
        slow.close()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Rinse for 20 seconds.", [("Rinse for", False), ("20", True), ("seconds.", False)]),
        ("Treat tooth four six.", [("Treat tooth", False), ("four six.", True)]),
        ("Wait ten minutes.", [("Wait", False), ("ten", True), ("minutes.", False)]),
        ("Cure five seconds.", [("Cure", False), ("five", True), ("seconds.", False)]),
        ("Tie one knot.", [("Tie one knot.", False)]),
        ("Pass two, then pause.", [("Pass two, then pause.", False)]),
        ("Use 37 % etchant.", [("Use", False), ("37", True), ("% etchant.", False)]),
        ("", []),
    ],
)
def test_only_values_are_slowed(text, expected):
    assert runs(text) == tuple(Run(words, value) for words, value in expected)


@given(st.text())
def test_reading_out_keeps_every_word_in_order(text):
    assert " ".join(run.text for run in runs(text)).split() == text.split()


@given(st.text(max_size=60))
@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_text_is_said_or_refused_with_a_reason(voice, text):
    refusal = ""
    try:
        said = voice.render(text).lasts > LEAD + TAIL
    except VoiceError as error:
        said, refusal = False, str(error)
    assert said or refusal
    assert voice.starts <= 1  # none where the first text of all was refused, and never one after


@pytest.mark.parametrize("text", ["", "   ", "\n", "word " * 200, "—"])
def test_what_cannot_be_said_is_refused_with_a_mend(voice, text):
    with pytest.raises(VoiceError, match=r"words|eight"):
        voice.render(text)


def test_an_unknown_voice_is_refused_by_name():
    made = PyttsVoice(voice="no-such-voice")
    try:
        with pytest.raises(VoiceError, match=r"no-such-voice.*doctor"):
            made.render("Etch enamel.")
    finally:
        made.close()


@pytest.mark.skipif(not Path("/proc/self/maps").exists(), reason="no /proc to read maps from")
def test_the_speech_library_is_the_one_of_the_wheel_and_no_other(voice):
    voice.warm()
    maps = Path(f"/proc/{voice._child.pid}/maps").read_text()
    libraries = {Path(line.split()[-1]) for line in maps.splitlines() if "libespeak" in line}
    wheel = Path(espeakng_loader.get_library_path()).resolve().parent
    assert {library.resolve().parent for library in libraries} == {wheel}


def test_the_engine_is_never_ahead_of_what_it_was_told(voice):
    """A thread of eSpeak's own set a rate or voice late: wrong, or silent, words came of it."""
    voice.warm()
    names = [
        Path(f"/proc/{voice._child.pid}/task/{task.name}/comm").read_text()
        for task in Path(f"/proc/{voice._child.pid}/task").iterdir()
    ]
    assert len(names) == 1, names


def test_a_crashed_child_is_replaced_and_the_prompt_still_said():
    made = PyttsVoice()
    try:
        made.warm()
        os.kill(made._child.pid, signal.SIGKILL)
        assert made.render(PROMPTS[2]).lasts > 1
        assert made.starts == 2
    finally:
        made.close()


@pytest.fixture
def moody(monkeypatch, tmp_path):
    """Make a voice whose child hangs, dies or is silent as the `mood` file says."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent))
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    made = PyttsVoice(deadline=1.0, child_module="late_render_child")
    yield made, tmp_path / "mood"
    made.close()


@pytest.mark.parametrize("how", ["hang", "die", "hush"])
def test_a_late_dying_or_silent_child_is_killed_restarted_and_asked_again(moody, how):
    made, mood = moody
    made.warm()
    mood.write_text(f"{how} once")
    first = made._child.pid
    assert made.render("Etch enamel.").lasts > LEAD + TAIL
    assert made.starts == 2
    with pytest.raises(ProcessLookupError):
        os.kill(first, 0)


@pytest.mark.parametrize(
    ("how", "why"), [("hang", "within 1 s"), ("die", "crashed"), ("hush", "words into silence")]
)
def test_a_child_that_fails_twice_is_an_error_and_not_a_hang(moody, how, why):
    made, mood = moody
    made.warm()
    mood.write_text(f"{how} always")
    begun = time.monotonic()
    with pytest.raises(VoiceError, match=f"Etch enamel.*{why}.*twice.*doctor"):
        made.render("Etch enamel.")
    assert time.monotonic() - begun < 20  # starts of the child and all; hanging is for ever
    mood.unlink()
    assert made.render("Etch enamel.").lasts > LEAD + TAIL  # and it recovers


def test_a_missing_speech_library_names_what_to_install(monkeypatch, tmp_path):
    (tmp_path / "espeakng_loader.py").write_text("raise ImportError('not here')\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    made = PyttsVoice()
    try:
        with pytest.raises(VoiceError, match=r"no voice: .*not here.*espeakng-loader"):
            made.render("Etch enamel.")
    finally:
        made.close()


def test_a_closed_voice_says_so_and_leaves_no_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    made = PyttsVoice()
    made.render("Etch enamel.")
    made.close()
    made.close()
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(VoiceError, match="closed"):
        made.render("Etch enamel.")


def test_a_voice_that_nobody_closed_leaves_no_folder_either(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    made = PyttsVoice()
    assert len(list(tmp_path.iterdir())) == 1
    del made
    gc.collect()
    assert list(tmp_path.iterdir()) == []


def test_the_child_ends_when_the_program_that_started_it_is_gone(tmp_path):
    child = Child("sidecue.speaking.render_child", str(tmp_path))
    child.receive(15)
    child._process.stdin.close()
    assert child._process.wait(timeout=5) == 0
    with pytest.raises(ChildGoneError):
        child.receive(1)
    child.kill()


def test_rendering_plays_nothing_and_prints_nothing(voice, capfd):
    sound = voice.render("Etch enamel.")
    assert isinstance(sound, Sound)
    assert capfd.readouterr().out == ""
    assert sys.stdout is not None
