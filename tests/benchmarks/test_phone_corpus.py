"""What the phone head is trained on is what was said."""

import numpy as np
from benchmarks.phones.corpus import draw_talker, draw_text, phones_of
from benchmarks.phones.keeping import distance, keep, read
from benchmarks.phones.transcribing import tokens

from sidecue.hearing.phones import PHONES


def test_tokens_are_read_by_the_length_before_each():
    raw = b"\x03one\x01t" + bytes([300 % 128 + 128, 300 // 128]) + b"x" * 300 + b"\x01u"
    assert tokens(raw) == [b"one", b"t", b"x" * 300, b"u"]


def test_a_text_has_the_phones_of_its_words():
    # ARPAbet spelling as in the CMU pronouncing dictionary, from memory.
    said = [PHONES[phone] for phone in phones_of("bite block") or ()]
    assert said == ["B", "AY", "T", "B", "L", "AA", "K"]
    assert phones_of("qqqxz") is None


def test_a_corpus_comes_back_from_its_file(tmp_path):
    rng = np.random.default_rng(2)
    made = [
        (rng.normal(size=(n, 288)).astype(np.float16), phones_of(word))
        for n, word in ((40, "stop"), (60, "pause"))
    ]
    keep(made, tmp_path / "frames-0001.npz")
    back = read([tmp_path / "frames-0001.npz"])
    assert [len(frames) for frames, _ in back] == [40, 60]
    assert [tuple(phones) for _, phones in back] == [phones for _, phones in made]


def test_no_voice_that_is_held_out_is_trained_on():
    from benchmarks.listening.voices import FRESH, HELD_OUT

    rng = np.random.default_rng(3)
    held_out = {(talker.engine, talker.voice.partition("+")[0]) for talker in HELD_OUT + FRESH}
    drawn = {(t.engine, t.voice.partition("+")[0]) for t in (draw_talker(rng) for _ in range(500))}
    assert not drawn & held_out
    assert {engine for engine, _ in drawn} == {"flite", "pico", "festival", "espeak"}


def test_texts_are_short_enough_to_be_learnt():
    rng = np.random.default_rng(4)
    assert all(2 <= len(draw_text(rng).phones) <= 45 for _ in range(30))


def test_phone_errors_are_counted_as_edits():
    assert distance([1, 2, 3], [1, 3]) == 1
    assert distance([], [4, 5]) == 2
