"""Three chimes told apart by rhythm, none of them like a medical alarm."""

from itertools import combinations

import numpy as np
import pytest

from sidecue.session.effects import ChimeKind
from sidecue.speaking.chimes import RATE, chime


def pulses(sound):
    """Return (start, length) of each pulse in seconds, read from the samples alone."""
    level = np.abs(sound.samples.astype(float))
    window = round(0.004 * RATE)
    smooth = np.convolve(level, np.ones(window) / window, mode="same")
    on = np.flatnonzero(np.diff((smooth > 0.1 * smooth.max()).astype(int), prepend=0, append=0))
    return [((b) / RATE, (e - b) / RATE) for b, e in zip(on[::2], on[1::2], strict=True)]


def partials(sound):
    """Return the frequencies within 15 dB of the strongest, one for each peak, in Hz."""
    spectrum = np.abs(np.fft.rfft(sound.samples * np.hanning(len(sound.samples)), 2**16))
    strong = np.flatnonzero(spectrum > spectrum.max() * 10 ** (-15 / 20)) * RATE / 2**16
    groups = np.split(strong, np.flatnonzero(np.diff(strong) > 150) + 1)
    return [float(group.mean()) for group in groups]


@pytest.mark.parametrize("kind", list(ChimeKind))
def test_a_chime_is_not_a_medical_alarm_pulse_or_burst(kind):
    # IEC 60601-1-8 alarm signals. Fundamental 150-1,000 Hz with at least four harmonics within
    # 15 dB: puiaudio.com/pages/iec-60601-1-8. Bursts of 10, 5, 3 pulses and pulse lengths of
    # 75-200 and 125-250 ms: from memory.
    sound = chime(kind)
    assert len(partials(sound)) == 1
    assert partials(sound)[0] > 1000
    found = pulses(sound)
    assert len(found) not in (3, 5, 10)
    assert all(not 0.075 <= length <= 0.250 for _, length in found)


def test_the_chimes_are_told_apart_by_rhythm_alone():
    rhythms = {kind: [round(length, 1) for _, length in pulses(chime(kind))] for kind in ChimeKind}
    assert len(rhythms[ChimeKind.HEARD]) == 1
    assert len(rhythms[ChimeKind.REFUSED]) == 2
    assert rhythms[ChimeKind.DUE] == [0.3, 0.1, 0.1, 0.3] or rhythms[ChimeKind.DUE][0] > 0.2
    for one, other in combinations(ChimeKind, 2):
        assert rhythms[one] != rhythms[other]


def test_the_heard_chime_is_over_before_the_next_word():
    # the gap between two people's turns is about 200 ms
    assert chime(ChimeKind.HEARD).lasts <= 0.1


@pytest.mark.parametrize("kind", list(ChimeKind))
def test_a_chime_neither_clicks_nor_clips(kind):
    samples = chime(kind).samples.astype(int)
    assert abs(samples[0]) < 100
    assert abs(samples[-1]) < 100
    assert 8000 < np.abs(samples).max() < 32767
    assert chime(kind).text == ""
