"""The doctor names what works and how to mend what does not, whatever is broken."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest

from sidecue.assets import data_folder
from sidecue.cli import checkup
from sidecue.devices.naming import Device
from sidecue.hearing.port import AudioError, Block
from sidecue.procedure.source import Fault, LoadError
from sidecue.speaking.port import VoiceError

DESK = Device("Desk microphone", "ALSA", 1, 48_000, False, True)
MONITOR = Device("Monitor of Speakers", "PulseAudio", 2, 44_100, True, False)
SPEAKERS = Device("Speakers", "ALSA", 2, 44_100, False, True)
HEADSET = Device("Headset", "ALSA", 2, 44_100, False, False)


WORKS = checkup.Verdict.WORKS
SELF_TEST = checkup._self_test


class Room:
    """Stands in for devices that a test machine has not."""

    name = "Speakers"
    level: int | None = 900

    def __init__(self) -> None:
        self.device = DESK

    def blocks(self):
        while True:
            samples = [] if self.level is None else [0, -self.level]
            yield Block(0.0, np.array(samples, dtype=np.int16))

    def close(self) -> None:
        pass


@pytest.fixture
def room(monkeypatch):
    monkeypatch.setattr(Room, "level", 900)
    monkeypatch.setattr(checkup, "LISTEN", 0.05)
    monkeypatch.setattr(checkup, "input_devices", lambda: (DESK, MONITOR))
    monkeypatch.setattr(checkup, "Microphone", Room)
    monkeypatch.setattr(checkup, "output_devices", lambda: (SPEAKERS, HEADSET))
    monkeypatch.setattr(checkup, "PortAudioLoudspeaker", Room)
    monkeypatch.setattr(
        checkup, "sound_library", lambda: iter([checkup.Part("sound library", WORKS, "there")])
    )
    untried = checkup.Part("ears: moonshine", WORKS, "decoding takes seconds: tried once")
    monkeypatch.setattr(checkup, "_self_test", lambda plan, recogniser, voice: untried)
    return Room


@pytest.fixture
def examine(sidecue):
    def run(*arguments):
        ran = sidecue("doctor", "--json", *arguments)
        found = json.loads(ran.out)
        assert found["ready"] == (ran.code == 0)
        assert ran.code in (0, 1)
        for part in found["parts"]:
            assert part["mend"] or part["verdict"] == "works", part
        return found["parts"]

    return run


def verdicts(parts):
    return {part["part"]: part["verdict"] for part in parts}


def test_a_machine_with_sound_is_ready(examine, room, monkeypatch):
    monkeypatch.setattr(checkup, "_self_test", SELF_TEST)
    parts = examine()
    assert set(verdicts(parts).values()) <= {"works", "optional"}
    told = {part["part"]: part["what"] for part in parts}
    microphones = "Desk microphone [default]; Monitor of Speakers [monitor, not a microphone]"
    assert microphones in told["microphone"]
    assert "Speakers [default]; Headset" in told["loudspeaker"]
    assert "decodes 3 of 3 phrases" in told["ears: moonshine"]
    assert "knows every word" in told["words"]


def test_the_table_says_so_in_plain_words(sidecue, room):
    ran = sidecue("doctor")
    assert ran.code == 0, ran.out
    assert "Ready for a live session by voice." in ran.out
    for part in ("python", "procedures", "voice", "microphone", "loudspeaker", "journal"):
        assert f"\n{part} " in f"\n{ran.out}"


def test_a_machine_without_sound_is_told_what_runs_all_the_same(sidecue, room, monkeypatch):
    def none():
        raise AudioError("live sound needs the PortAudio library; install it")

    def mute():
        raise VoiceError("no sound: PortAudio is missing; install libportaudio2")

    monkeypatch.setattr(checkup, "input_devices", none)
    monkeypatch.setattr(checkup, "output_devices", mute)
    ran = sidecue("doctor")
    assert ran.code == 1
    told = " ".join(ran.out.split())
    assert "missing: microphone, loudspeaker." in told
    assert "mend: install libportaudio2" in told
    assert "`sidecue demo`" in told


@pytest.mark.parametrize(("level", "told"), [(0, "digital silence"), (None, "nothing")])
def test_a_microphone_that_gives_no_sound_is_missing(examine, room, monkeypatch, level, told):
    monkeypatch.setattr(Room, "level", level)
    (part,) = (part for part in examine() if part["part"] == "microphone")
    assert part["verdict"] == "missing"
    assert told in part["what"]


def test_monitors_alone_are_no_microphone_and_the_mend_is_told(examine, room, monkeypatch):
    monkeypatch.setattr(checkup, "input_devices", lambda: (MONITOR,))
    (part,) = (part for part in examine() if part["part"] == "microphone")
    assert part["verdict"] == "missing"
    assert "Monitor of Speakers [monitor, not a microphone]" in part["what"]
    assert "--microphone NAME" in part["mend"]


def test_open_questions_of_the_practice_are_missing_with_the_place_of_the_answer(examine, room):
    asked = [part for part in examine("--practice", "unfinished") if part["part"] == "plan"]
    assert {part["verdict"] for part in asked} == {"missing"}
    assert all("unfinished.yaml" in part["mend"] for part in asked)


def test_a_word_the_engine_lacks_is_named(examine, room):
    practice = (data_folder("flows") / "practices" / "example.yaml").read_text("utf-8")
    Path("office.yaml").write_text(f"address: hey zorblax\n{practice}", "utf-8")
    parts = examine("--practice", "office.yaml")
    (lack,) = (part for part in parts if part["part"] == "words")
    assert lack["verdict"] == "missing"
    assert '"zorblax"' in lack["what"]


def test_faults_of_files_are_listed_and_the_rest_is_looked_at(examine, room):
    Path("case.yaml").write_text("tooth: 99\nsurfaces: [\n", "utf-8")
    parts = examine("--case", "case.yaml")
    assert verdicts(parts)["procedures"] == "missing"
    assert verdicts(parts)["voice"] == "works"


def test_a_journal_that_cannot_be_written_is_missing(examine, room):
    Path("file").write_text("no folder", "utf-8")
    parts = examine("--store", "file/journal.sqlite3")
    assert verdicts(parts)["journal"] == "missing"


@pytest.mark.parametrize(
    "broken", ["recogniser_of", "PyttsVoice", "input_devices", "SqliteJournal", "list_models"]
)
def test_whatever_breaks_is_a_part_that_says_so(examine, room, monkeypatch, broken):
    def breaks(*_arguments, **_options):
        raise RuntimeError("it came apart")

    monkeypatch.setattr(checkup, broken, breaks)
    parts = examine()
    assert any("it came apart" in part["what"] for part in parts)
    assert verdicts(parts)["python"] == "works"


def test_a_model_folder_that_is_none_is_optional_and_named(examine, room, home):
    folder = home / "data" / "sidecue" / "models" / "vosk-model-torn"
    (folder / "am").mkdir(parents=True)
    told = [part for part in examine() if part["part"] == "ears: vosk"]
    assert any("vosk-model-torn" in part["what"] for part in told)
    assert {part["verdict"] for part in told} == {"optional"}
    shutil.rmtree(folder)


def test_every_fault_of_a_file_is_told_with_its_own_mend():
    faults = (
        Fault("practice.yaml", 4, "'2 sec' is not a time", "write 2 s; or 2 min"),
        Fault("practice.yaml", 9, "unknown instrument 'probr'", "did you mean 'probe'?"),
    )

    def look():
        raise LoadError(faults)
        yield

    parts = list(checkup.guarded("plan", look))
    assert [(each.what, each.mend) for each in parts] == [
        (f"practice.yaml:{fault.line}: {fault.what}", fault.mend) for fault in faults
    ]
