"""The ears are fitted to a voice and a room: from recordings, within bounds, in numbers only."""

from __future__ import annotations

import math
import shutil
from contextlib import closing
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import soundfile
import yaml

from sidecue.cli import checkup, tune_command
from sidecue.cli.listening import Wanted, listening
from sidecue.cli.setting import setting as plan_setting
from sidecue.conductor import assembly
from sidecue.conductor.assembly import shipped_numbers
from sidecue.conductor.running import WallClock
from sidecue.hearing import tuning
from sidecue.hearing.files import read_sound
from sidecue.hearing.moonshine import MoonshineRecogniser
from sidecue.hearing.own_tuning import Tuning, fingerprint, keep, own_tuning_path
from sidecue.hearing.silence import in_silence
from sidecue.hearing.tuning_lines import ASKED, Script
from sidecue.procedure.plan import Tier

SPOKEN = Path(__file__).parents[2] / "audio_fixtures"
PHRASES = 4
TALK = 1
ENGINE = "moonshine"
EARS = shipped_numbers(ENGINE)
DESK = Tuning(
    ENGINE, "Desk", date(2026, 11, 25).isoformat(), fingerprint(EARS), EARS.thresholds, 20, 1, 9, 0
)


@cache
def made() -> Script:
    return Script(plan_setting("composite-46-mo", "example").plan)


@pytest.fixture
def script(sidecue) -> Script:
    """The lines of the case; made with the library that the tests share."""
    return made()


@pytest.fixture
def recordings(tmp_path, script) -> Path:
    """Phrases that may be said at the first step of the case, and ordinary talk."""
    folder = tmp_path / "recordings"
    folder.mkdir()
    first = script.moments[0]
    here = [line for line in script.every() if in_silence(line.moment) == first]
    known = [line.said.replace(" ", "-") for line in here]
    spoken = [next((SPOKEN / "accept").glob(f"{each}.flite-*"), None) for each in known]
    for path in [each for each in spoken if each is not None][:PHRASES]:
        shutil.copy(path, folder)
    for path in sorted((SPOKEN / "reject" / "unrelated").glob("*.flac"))[:TALK]:
        shutil.copy(path, folder / f"talk-{path.name}")
    return folder


def test_some_twenty_phrases_of_every_tier_are_asked_for(sidecue, script):
    lines = script.chosen()
    asked = sidecue("tune", "--phrases").out.splitlines()
    assert asked == [line.said for line in lines]
    assert {tier: sum(line.cue.tier is tier for line in lines) for tier in Tier} == dict(ASKED)
    assert len(set(asked)) == len(asked) == 19  # with second tries, some twenty
    for line in lines:  # stopping words and answers need no address, the rest does
        bare = line.cue.tier.always or line.moment.bare
        assert line.said.startswith("okay tray ") != bare
        assert line.cue in line.moment.cues


def test_a_voice_is_tuned_from_recordings(sidecue, home, recordings, monkeypatch):
    monkeypatch.setattr(tuning, "FEWEST_RIGHT", PHRASES)  # as many as the test has time for
    shutil.copy(recordings / f"talk-{_first_talk()}", recordings / "lullaby.flac")
    ran = sidecue(
        "tune", "--audio", recordings, "--microphone", "Desk", "--picture", "trade-off.svg"
    )
    assert ran.code == 0, ran
    assert f"of {PHRASES} " in ran.out
    assert f"{TALK} stretches of talk" in ran.out
    assert "phrases missed  threshold  talk taken for a cue" in ran.out
    assert f"set for {ENGINE} with 'Desk'" in ran.out
    assert "left out: lullaby.flac" in ran.err
    drawn = ElementTree.parse(home / "trade-off.svg").getroot()
    assert drawn.tag.endswith("svg")
    assert len(drawn.findall(".//{*}polyline")) == 2  # misses, and talk that is taken
    # Numbers, not sound: one small text file, and each threshold within its bounds.
    data = home / "data" / "sidecue"
    assert [path.name for path in data.iterdir()] == ["tuning.yaml"]
    (kept,) = yaml.safe_load((data / "tuning.yaml").read_text("utf-8"))["tunings"]
    assert (kept["engine"], kept["microphone"], kept["phrases"]) == (ENGINE, "Desk", PHRASES)
    assert kept["thresholds"]["stop"] >= EARS.thresholds[Tier.STOP]
    assert kept["thresholds"]["guarded"] >= EARS.thresholds[Tier.GUARDED]
    assert sidecue("tune", "--forget").out.startswith("forgotten")
    assert sidecue("tune", "--forget").out == "nothing was tuned\n"


def _first_talk() -> str:
    return sorted((SPOKEN / "reject" / "unrelated").glob("*.flac"))[0].name


def test_too_few_phrases_set_nothing_and_name_what_was_not_heard(sidecue, home, recordings):
    for path in sorted(recordings.iterdir())[1:]:
        path.unlink()
    mistaken = next(recordings.iterdir())
    shutil.copy(mistaken, recordings / "okay-tray-how-long-left.flac")  # other words than its name
    ran = sidecue("tune", "--audio", recordings, "--microphone", "Desk")
    assert ran.code == 1
    assert "nothing was set" in ran.out
    told = ran.out.splitlines()
    at = next(number for number, line in enumerate(told) if line.startswith('  "how long left" '))
    assert 'try "how much longer": not tried by you' in told[at + 1]
    assert not own_tuning_path().exists()


class ByItself(MoonshineRecogniser):
    """An engine with a confidence of its own, on which nothing can be set; deaf to one phrase."""

    name = "vosk"

    def hear(self, samples, started, vocabulary):
        found = super().hear(samples, started, vocabulary)
        deaf = found.phrase in self.deaf_to
        return (
            replace(found, cue=None, why="not sure enough") if deaf else replace(found, score=0.1)
        )


def test_an_engine_that_decides_by_itself_is_measured_and_nothing_is_set(
    sidecue, home, recordings, script, monkeypatch
):
    first = sorted(recordings.glob("okay*"))[0].name.partition(".")[0].replace("-", " ")
    ByItself.deaf_to = (first.removeprefix("okay tray "),)
    monkeypatch.setattr(tune_command, "open_engine", lambda wanted: ByItself())
    ran = sidecue("tune", "--engine", "vosk", "--audio", recordings, "--microphone", "Desk")
    assert ran.code == 0, ran
    assert f"measured    missed 1 of {PHRASES} (" in ran.out
    assert f"talk taken 0 of {TALK} (" in ran.out
    assert f'"{ByItself.deaf_to[0]}"' in ran.out
    assert "nothing was set: vosk decides by itself" in ran.out
    assert not own_tuning_path().exists()


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("--engine", "text"), "'text' cannot be tuned"),
        (("--engine", "vosk", "--picture", "curve.svg"), "leave --picture out"),
        (("--picture", "curve.png"), "drawn as .svg"),
        (("--picture", "nowhere/curve.svg"), "no such folder"),
        (("--audio", "nothing.wav"), "nothing.wav: no such file"),
        (("--audio", "."), "no .wav or .flac file is named by a phrase"),
        (("--audio", "silence.wav"), "not a word was heard"),
        (("--case", "nobody"), "no case called 'nobody'"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_line(sidecue, home, arguments, why):
    soundfile.write("silence.wav", np.zeros(16_000, np.int16), 16_000)
    if arguments == ("--audio", "."):
        Path("silence.wav").unlink()
    assert why in sidecue("tune", *arguments).trouble


def test_a_damaged_file_is_told_before_anybody_says_a_word(sidecue, home):
    own_tuning_path().parent.mkdir(parents=True)
    own_tuning_path().write_text("version: 7\n", "utf-8")
    assert "tuning.yaml:1: this is no tuning of version 1" in sidecue("tune").trouble
    (part,) = checkup.tunings()
    assert (part.verdict, "--forget" in part.mend) == (checkup.Verdict.MISSING, True)
    assert sidecue("tune", "--forget").code == 0


@pytest.mark.usefixtures("home")
def test_the_doctor_says_whether_a_tuning_is_in_force():
    (part,) = checkup.tunings()
    assert (part.verdict, "sidecue tune" in part.mend) == (checkup.Verdict.OPTIONAL, True)
    keep(DESK)
    keep(replace(DESK, microphone="Headset", ears="ears-of-last-year"))
    works, stale = checkup.tunings()
    assert works.verdict is checkup.Verdict.WORKS
    assert "moonshine with 'Desk', tuned on 2026-11-25: 1 of 20 phrases missed" in works.what
    assert stale.verdict is checkup.Verdict.OPTIONAL
    assert "not in force" in stale.what
    assert "tune again" in stale.mend


def test_a_session_hears_by_the_thresholds_of_its_microphone(script, capsys, monkeypatch):
    line = next(each for each in script.every() if each.phrase == "margin sealed")
    path = next((SPOKEN / "accept").glob("okay-tray-margin-sealed.*"))
    sound = read_sound(path)
    with closing(MoonshineRecogniser()) as engine:
        score = engine.hear(sound, 0.0, line.moment).score
    # Ears that are 70 % sure of this phrase: enough as shipped, too little for this tuning.
    odds = math.log(0.7 / 0.3) - math.log(score / (1 - score))
    ears = replace(EARS, bias=EARS.bias + odds)
    monkeypatch.setattr(assembly, "shipped_numbers", lambda _: ears)
    keep(replace(DESK, ears=fingerprint(ears), thresholds=dict.fromkeys(Tier, 0.8)))
    keep(replace(DESK, microphone="Old", thresholds=dict.fromkeys(Tier, 0.8)))

    def heard(microphone: str) -> str | None:
        wanted = Wanted("auto", audio=path, microphone=microphone)
        with listening(None, wanted, WallClock(0.0)) as opened:
            return opened.recogniser.hear(sound, 0.0, line.moment).cue

    assert heard("Headset") == line.cue.id
    assert capsys.readouterr().err == ""
    assert heard("Desk") is None
    assert "ears: moonshine with 'Desk', tuned on 2026-11-25: 1 of 20" in capsys.readouterr().err
    assert heard("Old") == line.cue.id  # it was made for other numbers than these
    assert "not in force" in capsys.readouterr().err
