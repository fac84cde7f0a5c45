"""`sidecue run --set-up`: the case is told before the visit, typed or by a voice."""

import io
import shutil
import subprocess

import numpy as np
import pytest

from sidecue.cli.case_setup import CaseSetup
from sidecue.cli.main import run
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.telling_case import Listener, Preparing
from sidecue.hearing.ears import Ears
from sidecue.hearing.files import read_sound
from sidecue.hearing.port import RATE, Block
from sidecue.procedure.case_talk import case_talk
from sidecue.session.setting_up import SetUpMachine
from sidecue.speaking.mute import MuteLoudspeaker

TOLD = """tooth number four six
confirm that
surfaces mesial occlusal
confirm that
fill with composite
confirm that
isolate with rubber dam
confirm that
depth four millimetres
confirm that
okay tray start the visit
no more warnings
okay tray start the visit
confirm that
okay tray identity confirmed
"""


@pytest.fixture
def typed(monkeypatch, tmp_path):
    def type_(text):
        monkeypatch.setattr("sys.stdin", io.StringIO(text))
        return run(["run", "--set-up", "--engine", "text", "--mute", "--store",
                    str(tmp_path / "j.sqlite3"), "--out", str(tmp_path)])  # fmt: skip

    return type_


def test_a_case_is_typed_and_what_follows_belongs_to_its_visit(typed, capsys):
    assert typed(TOLD) == 1  # the visit was only begun
    out = capsys.readouterr().out
    assert "Starting. " in out
    assert '"identity confirmed" [sign-in.done]' in out


def test_a_case_that_was_never_started_is_one_clear_line(typed, capsys):
    assert typed("tooth number four six\n") == 2
    err = capsys.readouterr().err
    assert "the case was not started" in err
    assert len(err.splitlines()) == 1


@pytest.mark.skipif(shutil.which("flite") is None, reason="no flite on this machine")
def test_a_voice_tells_the_tooth_and_talk_tells_nothing(tmp_path):
    """A synthetic voice, through the real ears; one of the phrases is talk."""
    setup = CaseSetup("example", None, lambda _: True, lambda: None)
    library = setup.library
    machine = SetUpMachine(
        case_talk(setup.practice), library.cues, dict(library.prompts), setup.draft
    )
    listener = Listener(library.address, library.decoys, library.pronunciations)
    turns = []

    class Mouth(MuteLoudspeaker):
        def carry_out(self, effects, now):
            return now

        def saying(self, now):
            return ()

    preparing = Preparing(machine, listener, Mouth(), turns.append)
    preparing.begin({}, 0.0)
    recogniser = recogniser_of("auto", None)
    ears, now = Ears(recogniser, preparing.vocabulary), 0.0
    draw = np.random.default_rng(1)
    try:
        for phrase in ("tooth number four six", "we had rain all day", "confirm that"):
            file = tmp_path / "said.wav"
            subprocess.run(["flite", "-voice", "slt", "-t", phrase, "-o", str(file)], check=True)
            said = np.concatenate([np.zeros(RATE // 2), read_sound(file), np.zeros(RATE)])
            track = (said + draw.standard_normal(len(said)) * 8).astype(np.int16)
            for begin in range(0, len(track), 800):
                block = Block(now, track[begin : begin + 800])
                now += len(block.samples) / RATE
                preparing.clock(now)
                for hearing in ears.take(block).hearings:
                    preparing.hear(hearing, now)
    finally:
        recogniser.close()
    assert [turn.hearing.cue for turn in turns if turn.hearing] == [
        "setup.tooth.46", None, "confirm"]  # fmt: skip
    assert preparing.state.entry == {"tooth": "46"}
