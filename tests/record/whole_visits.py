"""Visits told event by event, for the tests of the record."""

from __future__ import annotations

from small_visit import small_plan

from sidecue.record.story import Story
from sidecue.record.telling import tell
from sidecue.session.events import (
    CueGiven,
    DeviceBack,
    DeviceLost,
    Event,
    HearingRefused,
    Restarted,
    Source,
    Started,
    TimePassed,
)

#: A visit as it goes: a premature cue, a rinse ended too early and held, a pause, a lost
#: microphone, words nobody meant, and the bite checked in the end.
GOOD: tuple[Event, ...] = (
    Started(0.0),
    CueGiven(10.0, "numb-done", phrase="tooth is numb"),
    CueGiven(12.0, "place-done", phrase="composite is placed"),  # held: not rinsed
    CueGiven(20.0, "etch-on", phrase="etch is on"),
    HearingRefused(22.0, "too far from every phrase", "etch-done", 0.3),
    HearingRefused(23.0, "too far from every phrase", "", 0.1),
    TimePassed(32.0),
    CueGiven(34.0, "etch-done", Source.PEDAL),
    CueGiven(35.0, "water-on"),
    CueGiven(40.0, "rinse-done"),  # held: fifteen seconds are not over
    DeviceLost(41.0, "microphone"),
    DeviceBack(44.0, "microphone"),
    TimePassed(50.0),
    CueGiven(51.5, "rinse-done"),
    CueGiven(60.0, "pause"),
    CueGiven(90.0, "resume"),
    CueGiven(100.0, "place-done"),
    Restarted(110.0),
    CueGiven(120.0, "bite-done"),
)

#: The anaesthetic left out with a reason, nothing else amiss.
NOT_NUMBED: tuple[Event, ...] = (
    Started(0.0),
    CueGiven(5.0, "skip"),
    CueGiven(7.0, "not-needed"),
    *GOOD[3:4],
    *GOOD[7:9],
    *GOOD[12:14],
    *GOOD[16:17],
    *GOOD[18:],
)

#: Saliva on the etched cavity: back to etching, all of it again.
SALIVA: tuple[Event, ...] = (
    *GOOD[:2],
    CueGiven(20.0, "etch-on"),
    CueGiven(34.0, "etch-done"),
    CueGiven(35.0, "water-on"),
    CueGiven(51.0, "rinse-done"),
    CueGiven(55.0, "saliva"),
    CueGiven(57.0, "confirm"),
    CueGiven(70.0, "etch-on"),
    CueGiven(84.0, "etch-done"),
    CueGiven(85.0, "water-on"),
    CueGiven(101.0, "rinse-done"),
    CueGiven(110.0, "place-done"),
    CueGiven(120.0, "bite-done"),
)

#: The patient faints while the acid is on; nobody finishes the visit.
FAINTED: tuple[Event, ...] = (
    *GOOD[:2],
    CueGiven(20.0, "etch-on"),
    CueGiven(22.0, "faint"),
    TimePassed(40.0),
    CueGiven(62.0, "emergency-over"),
    CueGiven(64.0, "confirm"),
)


def told(events: tuple[Event, ...]) -> Story:
    return tell(small_plan(), events)
