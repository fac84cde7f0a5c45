"""What is said goes to a WAV, in its place in time, without what was cut off."""

import errno
import wave

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from loudspeaker_contract import HandClock, LoudspeakerContract, tone

from sidecue.speaking.port import VoiceError
from sidecue.speaking.recorder import RATE, FileLoudspeaker


def heard(path):
    """Return (start, end) in seconds of every stretch of sound in the file."""
    with wave.open(str(path), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE)
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(int)
    loud = np.flatnonzero(np.abs(samples) > 100)
    if not len(loud):
        return []
    groups = np.split(loud, np.flatnonzero(np.diff(loud) > 0.05 * RATE) + 1)
    return [(round(g[0] / RATE, 2), round(g[-1] / RATE, 2)) for g in groups]


class TestFileLoudspeaker(LoudspeakerContract):
    @pytest.fixture
    def clock(self):
        return HandClock()

    @pytest.fixture
    def speaker(self, tmp_path):
        made = FileLoudspeaker(tmp_path / "contract.wav")
        yield made
        made.close()


@pytest.fixture
def path(tmp_path):
    return tmp_path / "said.wav"


def test_prompts_lie_where_they_were_said_from_the_origin_on(path):
    speaker = FileLoudspeaker(path, origin=100.0)
    speaker.play(tone(0.5), 101.0)
    speaker.play(tone(0.5), 103.25)
    speaker.close()
    assert heard(path) == [(1.0, 1.5), (3.25, 3.75)]


def test_without_an_origin_the_first_sound_begins_the_file(path):
    speaker = FileLoudspeaker(path)
    speaker.play(tone(0.5), 500.0)
    speaker.play(tone(0.5), 501.0)
    speaker.close()
    assert heard(path) == [(0.0, 0.5), (1.0, 1.5)]


def test_what_silence_cut_off_is_missing_as_it_was_in_the_room(path):
    speaker = FileLoudspeaker(path, origin=0.0)
    speaker.play(tone(2.0), 0.0)
    speaker.play(tone(2.0), 0.0)
    speaker.silence(0.5)
    speaker.play(tone(0.25), 1.0)
    speaker.close()
    assert heard(path) == [(0.0, 0.5), (1.0, 1.25)]


def test_a_dropped_prompt_is_missing_and_the_one_before_is_whole(path):
    speaker = FileLoudspeaker(path, origin=0.0)
    speaker.play(tone(1.0), 0.0)
    speaker.play(tone(1.0), 0.0)
    speaker.drop_last(1, 0.5)
    speaker.play(tone(0.25), 2.0)
    speaker.close()
    assert heard(path) == [(0.0, 1.0), (2.0, 2.25)]


def test_a_killed_session_leaves_a_readable_file_of_what_was_heard(path):
    speaker = FileLoudspeaker(path, origin=0.0)
    speaker.play(tone(0.5), 0.0)
    speaker.play(tone(0.5), 2.0)
    speaker._raw.flush()  # what the system has when the process dies; never closed
    assert heard(path) == [(0.0, 0.5)]
    speaker.close()


@pytest.mark.parametrize("name", ["no/such/folder/said.wav", "."])
def test_a_file_that_cannot_be_opened_is_named_with_a_mend(tmp_path, name):
    with pytest.raises(VoiceError, match=r"cannot write what is said: .*; choose another file"):
        FileLoudspeaker(tmp_path / name)


def test_a_full_disk_is_one_clear_error(path, monkeypatch):
    speaker = FileLoudspeaker(path, origin=0.0)

    def full(_):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(speaker._file, "writeframes", full)
    speaker.play(tone(0.5), 0.0)
    with pytest.raises(VoiceError, match=r"said\.wav: .*No space left on device; free space"):
        speaker.play(tone(0.5), 5.0)
    monkeypatch.undo()
    speaker.close()


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["play", "play", "silence", "drop"]),
            st.floats(0.0, 1.0),
            st.floats(0.05, 0.5),
        ),
        max_size=12,
    )
)
@settings(max_examples=60, deadline=None)
def test_the_file_is_never_longer_than_the_time_that_was_busy(tmp_path_factory, acts):
    path = tmp_path_factory.mktemp("said") / "said.wav"
    speaker, now = FileLoudspeaker(path, origin=0.0), 0.0
    for act, later, lasts in acts:
        now += later
        if act == "play":
            ends = speaker.play(tone(lasts), now)
            assert ends >= now + lasts - 1 / RATE
        elif act == "silence":
            speaker.silence(now)
            assert speaker.busy_until(now) == now
        else:
            speaker.drop_last(1, now)
    last = speaker.busy_until(now)
    speaker.close()
    with wave.open(str(path), "rb") as file:
        assert file.getnframes() / RATE <= last + 0.001
