import resource
import signal
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from lesson_plan import lesson_plan

from sidecue.training.lesson import lesson
from sidecue.training.lesson_audio import BREATH, LessonError, write_lesson

LINES = lesson(lesson_plan())
RATE = 16_000


@dataclass(frozen=True)
class Tone:
    samples: npt.NDArray[np.int16]
    rate: int


class HoarseError(Exception):
    """The voice's own error, which it has words for."""


def render(text):
    """A hundredth of a second of sound for each letter, so that lengths tell what was said."""
    return Tone(np.full(len(text) * RATE // 100, 1000, dtype=np.int16), RATE)


@pytest.mark.parametrize("suffix", [".wav", ".flac", ".WAV"])
def test_the_whole_lesson_is_in_the_file(tmp_path, suffix):
    path = tmp_path / f"lesson{suffix}"
    chapters = write_lesson(path, LINES, render, pace=2.0)
    samples, rate = soundfile.read(path, dtype="int16")
    spoken = sum(len(line.text) for line in LINES) / 100
    silent = len(LINES) * BREATH + 7 * 2.0  # eight sections, a pause between each two
    assert rate == RATE
    assert len(samples) / RATE == pytest.approx(spoken + silent, abs=0.01)
    assert np.count_nonzero(samples) / RATE == pytest.approx(spoken, abs=0.01)
    steps = [chapter.step for chapter in chapters]
    assert steps == ["", "look", "inject", "clamp", "etch", "rinse", "bite", ""]


def test_a_chapter_begins_where_its_step_is_spoken(tmp_path):
    path = tmp_path / "lesson.wav"
    chapters = write_lesson(path, LINES, render, pace=1.0)
    samples, _ = soundfile.read(path, dtype="int16")
    for chapter in chapters[1:]:
        at = round(chapter.at * RATE)
        assert samples[at] == 1000
        assert not samples[at - RATE : at].any()


def test_a_voice_that_fails_leaves_no_file_and_spoils_no_older_one(tmp_path):
    path = tmp_path / "lesson.wav"
    write_lesson(path, LINES[:3], render, pace=0.0)
    before = path.read_bytes()

    def hoarse(text):
        if text == LINES[5].text:
            raise HoarseError("the voice took too long")
        return render(text)

    with pytest.raises(HoarseError):
        write_lesson(path, LINES, hoarse, pace=0.0)
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.iterdir()] == ["lesson.wav"]


def test_two_voices_of_different_rate_are_refused(tmp_path):
    def changing(text):
        return render(text) if text == LINES[0].text else Tone(render(text).samples, 22_050)

    with pytest.raises(LessonError, match="from 16000 to 22050 Hz; use one voice"):
        write_lesson(tmp_path / "lesson.wav", LINES, changing, pace=0.0)


@pytest.mark.parametrize("name", ["lesson.ogg", "lesson", "lesson.wav.txt"])
def test_another_kind_of_file_is_refused(tmp_path, name):
    with pytest.raises(LessonError, match=r"\.wav or \.flac"):
        write_lesson(tmp_path / name, LINES, render, pace=0.0)


@pytest.mark.parametrize("folder", ["no-such", "a-file"])
def test_a_folder_that_cannot_be_written_gets_one_line(tmp_path, folder):
    (tmp_path / "a-file").touch()
    with pytest.raises(LessonError, match="choose a folder you may write to") as error:
        write_lesson(tmp_path / folder / "lesson.wav", LINES, render, pace=0.0)
    assert "\n" not in str(error.value)


def test_a_file_that_may_grow_no_further_is_not_left_half_written(tmp_path):
    before = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, hard))
    try:
        with pytest.raises(LessonError):
            write_lesson(tmp_path / "lesson.wav", LINES, render, pace=2.0)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, before)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("pace", [-1.0, float("nan")])
def test_an_impossible_pace_is_refused(tmp_path, pace):
    with pytest.raises(LessonError, match="pace"):
        write_lesson(tmp_path / "lesson.wav", LINES, render, pace)


def test_an_empty_lesson_is_refused(tmp_path):
    with pytest.raises(LessonError, match="empty"):
        write_lesson(tmp_path / "lesson.wav", (), render, pace=0.0)
