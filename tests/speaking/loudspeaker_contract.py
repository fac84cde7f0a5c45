"""What every loudspeaker must do. Each adapter's test class subclasses this."""

import numpy as np
import pytest

from sidecue.speaking.port import Sound

SLACK = 0.08  # s: a device's latency and one block


def tone(lasts, rate=22_050, text="tone"):
    """Return a 500 Hz tone of `lasts` seconds."""
    time = np.arange(round(lasts * rate)) / rate
    return Sound((8000 * np.sin(2 * np.pi * 500 * time)).astype(np.int16), rate, text)


class LoudspeakerContract:
    """Needs the fixtures `speaker` and `clock` (`clock.now`, `clock.wait(seconds)`)."""

    def test_a_sound_ends_its_own_length_after_it_began(self, speaker, clock):
        begun = clock.now
        ends = speaker.play(tone(0.3), begun)
        assert begun + 0.3 <= ends + 1e-9
        assert ends <= begun + 0.3 + SLACK
        clock.wait(0.1)
        assert speaker.busy_until(clock.now) == pytest.approx(ends, abs=0.03)

    def test_playback_is_over_when_it_said_it_would_be(self, speaker, clock):
        ends = speaker.play(tone(0.2), clock.now)
        clock.wait(ends - clock.now + SLACK)
        assert speaker.busy_until(clock.now) == clock.now

    def test_sounds_follow_one_another(self, speaker, clock):
        first = speaker.play(tone(0.3), clock.now)
        second = speaker.play(tone(0.2), clock.now)
        assert second - first == pytest.approx(0.2, abs=0.02)

    def test_a_sound_after_a_pause_begins_at_once(self, speaker, clock):
        speaker.play(tone(0.1), clock.now)
        clock.wait(0.5)
        begun = clock.now
        assert speaker.play(tone(0.2), begun) <= begun + 0.2 + SLACK

    def test_silence_is_within_fifty_milliseconds(self, speaker, clock):
        # own voice silent within 200 ms of "stop", of which the loudspeaker gets a quarter
        speaker.play(tone(2.0), clock.now)
        speaker.play(tone(2.0), clock.now)
        clock.wait(0.3)
        speaker.silence(clock.now)
        assert speaker.busy_until(clock.now) <= clock.now + 0.05
        clock.wait(0.15)
        assert speaker.busy_until(clock.now) == clock.now

    def test_what_is_said_after_silence_does_not_wait_for_what_was_dropped(self, speaker, clock):
        speaker.play(tone(2.0), clock.now)
        clock.wait(0.2)
        speaker.silence(clock.now)
        begun = clock.now
        assert speaker.play(tone(0.2), begun) <= begun + 0.2 + 2 * SLACK

    def test_dropping_the_last_lets_the_first_end(self, speaker, clock):
        first = speaker.play(tone(0.5), clock.now)
        speaker.play(tone(2.0), clock.now)
        speaker.play(tone(2.0), clock.now)
        clock.wait(0.1)
        speaker.drop_last(2, clock.now)
        assert speaker.busy_until(clock.now) == pytest.approx(first, abs=0.03)
        clock.wait(0.15)
        assert speaker.busy_until(clock.now) == pytest.approx(first, abs=0.03)

    def test_dropping_what_has_begun_cuts_it(self, speaker, clock):
        speaker.play(tone(2.0), clock.now)
        clock.wait(0.2)
        speaker.drop_last(5, clock.now)
        clock.wait(0.15)
        assert speaker.busy_until(clock.now) == clock.now

    def test_dropping_nothing_changes_nothing(self, speaker, clock):
        ends = speaker.play(tone(0.5), clock.now)
        speaker.drop_last(0, clock.now)
        clock.wait(0.15)
        assert speaker.busy_until(clock.now) == pytest.approx(ends, abs=SLACK)

    def test_any_rate_lasts_as_long(self, speaker, clock):
        for rate in (8_000, 16_000, 44_100, 48_000):
            begun = speaker.busy_until(clock.now)
            ends = speaker.play(tone(0.1, rate), clock.now)
            assert ends - begun == pytest.approx(0.1, abs=SLACK)

    def test_an_empty_sound_takes_no_time(self, speaker, clock):
        begun = clock.now
        ends = speaker.play(Sound(np.zeros(0, np.int16), 22_050), begun)
        assert ends <= begun + SLACK

    def test_silence_with_nothing_playing_is_harmless(self, speaker, clock):
        speaker.silence(clock.now)
        speaker.drop_last(3, clock.now)
        clock.wait(0.15)
        assert speaker.busy_until(clock.now) == clock.now

    def test_closing_twice_is_harmless(self, speaker):
        speaker.close()
        speaker.close()


class HandClock:
    """A clock that moves only when told, as a recording's does."""

    def __init__(self, now=100.0):
        self.now = now

    def wait(self, seconds):
        self.now += seconds
