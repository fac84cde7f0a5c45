"""What every loudspeaker must do. Each adapter's test class subclasses this."""

import numpy as np

from sidecue.speaking.port import Sound


def tone(lasts, rate=22_050, text="tone"):
    """Return a 500 Hz tone of `lasts` seconds."""
    time = np.arange(round(lasts * rate)) / rate
    return Sound((8000 * np.sin(2 * np.pi * 500 * time)).astype(np.int16), rate, text)


class LoudspeakerContract:
    """Needs the fixtures `speaker` and `clock`: `clock.now`, `clock.wait(seconds)`,
    `clock.until(condition, seconds)`, `clock.ask(function of now)`.

    `late` is how many seconds later than planned a sound may end: a device's latency, one block,
    and the machine's being busy. Each test's fault is of more seconds than that.
    """

    late = 0.08
    apart = 0.02  # how far two readings of one moment may lie apart

    def lasts(self, planned, wanted):
        """Whether `planned` seconds are `wanted`, or a little more."""
        return wanted - self.apart <= planned <= wanted + self.late

    def quiet(self, speaker, clock):
        """Wait until nothing plays; it has to be soon."""
        clock.until(lambda now: speaker.busy_until(now) == now, self.late)

    def test_a_sound_ends_its_own_length_after_it_began(self, speaker, clock):
        begun = clock.now
        ends = speaker.play(tone(2.0), begun)
        assert begun + 2.0 <= ends + 1e-9
        assert self.lasts(ends - begun, 2.0)
        clock.wait(0.1)
        assert self.lasts(clock.ask(speaker.busy_until) - begun, 2.0)

    def test_playback_is_over_when_it_said_it_would_be(self, speaker, clock):
        ends = speaker.play(tone(0.2), clock.now)
        clock.wait(ends - clock.now)
        self.quiet(speaker, clock)

    def test_sounds_follow_one_another(self, speaker, clock):
        begun = clock.now
        speaker.play(tone(2.0), begun)
        assert self.lasts(speaker.play(tone(2.0), begun) - begun, 4.0)

    def test_a_sound_after_a_pause_begins_at_once(self, speaker, clock):
        speaker.play(tone(0.1), clock.now)
        clock.wait(0.5)
        begun = clock.now
        assert self.lasts(speaker.play(tone(0.2), begun) - begun, 0.2)

    def test_silence_is_within_fifty_milliseconds(self, speaker, clock):
        # own voice silent within 200 ms of "stop", of which the loudspeaker gets a quarter
        speaker.play(tone(2.0), clock.now)
        speaker.play(tone(2.0), clock.now)
        clock.wait(0.3)
        speaker.silence(clock.now)
        assert clock.ask(lambda now: speaker.busy_until(now) - now) <= 0.05
        clock.wait(0.15)
        self.quiet(speaker, clock)

    def test_what_is_said_after_silence_does_not_wait_for_what_was_dropped(self, speaker, clock):
        speaker.play(tone(4.0), clock.now)
        clock.wait(0.2)
        speaker.silence(clock.now)
        begun = clock.now
        assert self.lasts(speaker.play(tone(0.2), begun) - begun, 0.2)

    def test_dropping_the_last_lets_the_first_end(self, speaker, clock):
        begun = clock.now
        speaker.play(tone(1.0), begun)
        speaker.play(tone(2.0), begun)
        speaker.play(tone(2.0), begun)
        clock.wait(0.1)
        speaker.drop_last(2, clock.now)
        assert self.lasts(clock.ask(speaker.busy_until) - begun, 1.0)
        clock.wait(0.15)
        assert self.lasts(clock.ask(speaker.busy_until) - begun, 1.0)

    def test_dropping_what_has_begun_cuts_it(self, speaker, clock):
        speaker.play(tone(4.0), clock.now)
        clock.wait(0.2)
        speaker.drop_last(5, clock.now)
        clock.wait(0.15)
        self.quiet(speaker, clock)

    def test_dropping_nothing_changes_nothing(self, speaker, clock):
        begun = clock.now
        speaker.play(tone(2.0), begun)
        speaker.drop_last(0, clock.now)
        clock.wait(0.15)
        assert self.lasts(clock.ask(speaker.busy_until) - begun, 2.0)

    def test_any_rate_lasts_as_long(self, speaker, clock):
        begun = clock.now
        for count, rate in enumerate((8_000, 16_000, 44_100, 48_000), start=1):
            ends = speaker.play(tone(1.5, rate), begun)
            assert self.lasts(ends - begun, 1.5 * count)

    def test_an_empty_sound_takes_no_time(self, speaker, clock):
        begun = clock.now
        assert self.lasts(speaker.play(Sound(np.zeros(0, np.int16), 22_050), begun) - begun, 0.0)

    def test_silence_with_nothing_playing_is_harmless(self, speaker, clock):
        speaker.silence(clock.now)
        speaker.drop_last(3, clock.now)
        clock.wait(0.15)
        self.quiet(speaker, clock)

    def test_closing_twice_is_harmless(self, speaker):
        speaker.close()
        speaker.close()


class HandClock:
    """A clock that moves only when told, as a recording's does."""

    def __init__(self, now=100.0):
        self.now = now

    def wait(self, seconds):
        self.now += seconds

    def until(self, condition, seconds):
        """Pass `seconds`; `condition(now)` must hold then."""
        self.now += seconds
        assert condition(self.now)

    def ask(self, function):
        """Return what `function` says of this moment."""
        return function(self.now)
