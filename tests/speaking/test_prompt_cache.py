"""Prompts are rendered once, and a bad cache costs speed, never speech."""

import os

import numpy as np
import pytest

from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.port import Sound, VoiceError


class CountingVoice:
    """Renders a tone as long as the text and counts how often it was asked."""

    signature = "tone 1"

    def __init__(self):
        self.asked = []
        self.closed = 0

    def render(self, text):
        self.asked.append(text)
        if "unspeakable" in text:
            raise VoiceError("cannot say it; write it as words")
        return Sound(np.full(100 * len(text), 1000, np.int16), 22_050, text)

    def close(self):
        self.closed += 1


@pytest.fixture
def inner():
    return CountingVoice()


def test_the_same_prompt_is_rendered_once(inner):
    voice = CachedVoice(inner)
    first, again = voice.render("Rinse."), voice.render("Rinse.")
    assert again is first
    assert inner.asked == ["Rinse."]


def test_a_prompt_kept_in_the_folder_serves_the_next_session(inner, tmp_path):
    said = CachedVoice(inner, tmp_path / "prompts").render("Rinse.")
    later = CountingVoice()
    read = CachedVoice(later, tmp_path / "prompts").render("Rinse.")
    assert later.asked == []
    assert read.text == "Rinse."
    assert read.rate == said.rate
    assert np.array_equal(read.samples, said.samples)


def test_a_changed_voice_never_finds_the_old_sound(inner, tmp_path):
    CachedVoice(inner, tmp_path).render("Rinse.")
    later = CountingVoice()
    later.signature = "tone 2"
    CachedVoice(later, tmp_path).render("Rinse.")
    assert later.asked == ["Rinse."]


@pytest.mark.parametrize("damage", ["empty", "cut", "other", "stereo-like header"])
def test_a_damaged_file_is_rendered_again_and_replaced(inner, tmp_path, damage):
    CachedVoice(inner, tmp_path).render("Rinse.")
    (path,) = tmp_path.glob("*.wav")
    whole = path.read_bytes()
    broken = {
        "empty": b"",
        "cut": whole[: len(whole) // 2],
        "other": b"not a sound at all, but long enough to be read as one",
        "stereo-like header": whole[:22] + b"\x02" + whole[23:],
    }[damage]
    path.write_bytes(broken)
    later = CountingVoice()
    assert CachedVoice(later, tmp_path).render("Rinse.").lasts > 0
    assert later.asked == ["Rinse."]
    assert path.read_bytes() == whole


def test_an_unwritable_folder_costs_only_the_folder(inner, tmp_path):
    file = tmp_path / "in-the-way"
    file.write_text("a file where the folder should be")
    voice = CachedVoice(inner, file / "prompts")
    assert voice.render("Rinse.").lasts > 0
    assert "in memory only" in voice.folder_fault
    voice.render("Rinse.")
    assert inner.asked == ["Rinse."]


def test_memory_is_bounded_and_the_oldest_goes_first(inner, monkeypatch):
    monkeypatch.setattr("sidecue.speaking.cache._MEMORY_BYTES", 3000)
    voice = CachedVoice(inner)
    for text in ("aaaaa", "bbbbb", "aaaaa", "ccccc", "ddddd"):
        voice.render(text)
    voice.render("aaaaa")
    assert inner.asked == ["aaaaa", "bbbbb", "ccccc", "ddddd"]
    voice.render("bbbbb")
    assert inner.asked[-1] == "bbbbb"


def test_the_folder_is_bounded_and_half_written_files_go(inner, tmp_path, monkeypatch):
    voice = CachedVoice(inner, tmp_path)
    for number, text in enumerate(("aaaaa", "bbbbb", "ccccc")):
        voice.render(text)
        newest = max(tmp_path.glob("*.wav"), key=lambda path: path.stat().st_mtime_ns)
        os.utime(newest, (number, number))
    (tmp_path / "half.part").write_bytes(b"x")
    monkeypatch.setattr("sidecue.speaking.cache._FOLDER_BYTES", 2500)
    later = CountingVoice()
    again = CachedVoice(later, tmp_path)
    for text in ("bbbbb", "ccccc"):
        again.render(text)
    assert later.asked == []
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".wav", ".wav"]


def test_closing_closes_the_voice_behind(inner):
    CachedVoice(inner).close()
    assert inner.closed == 1
