import json
from dataclasses import fields
from typing import get_args

import pytest
from hypothesis import given
from random_events import any_event

from sidecue.record.event_codec import NAMES, event_from_json, event_to_json
from sidecue.record.port import UnreadableEventError
from sidecue.session.events import CueGiven, Event, HearingRefused, Source, Started


@given(any_event())
def test_every_event_reads_back_as_it_was(event):
    text = event_to_json(event)
    assert event_from_json(text) == event
    assert "\n" not in text


def test_every_kind_of_event_has_a_name():
    assert set(NAMES.values()) == set(get_args(Event))


def test_names_and_fields_of_stored_events_never_change():
    # A journal of last year must read this year: this table is the file format.
    assert {name: [field.name for field in fields(kind)] for name, kind in NAMES.items()} == {
        "started": ["at"],
        "cue-given": ["at", "cue", "source", "phrase", "score"],
        "hearing-refused": ["at", "why", "nearest", "score"],
        "time-passed": ["at"],
        "device-lost": ["at", "device"],
        "device-back": ["at", "device"],
        "restarted": ["at"],
    }


def test_the_stored_form_holds_plain_names_and_no_module_path():
    text = event_to_json(CueGiven(1.5, "etch-on", Source.PEDAL, "etch is on", 0.5))
    assert json.loads(text) == {
        "type": "cue-given",
        "at": 1.5,
        "cue": "etch-on",
        "source": "pedal",
        "phrase": "etch is on",
        "score": 0.5,
    }


def test_fields_that_an_older_version_did_not_write_take_their_defaults():
    assert event_from_json('{"type":"cue-given","at":1,"cue":"undo"}') == CueGiven(1.0, "undo")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"type":"started","at":0.0,"chair":2}', "unknown field 'chair'.*newer"),
        ('{"type":"lamp-broke","at":0.0}', "unknown kind of event 'lamp-broke'.*newer"),
        ('{"at":0.0}', "unknown kind of event None"),
        ('{"type":["started"],"at":0.0}', "unknown kind"),
        ('{"type":"started"}', "'started', at: Field required"),
        ('{"type":"started","at":"0"}', "'started', at"),
        ('{"type":"started","at":NaN}', "not a finite number"),
        ('{"type":"started","at":1e999}', "not a finite number"),
        ('{"type":"cue-given","at":1,"cue":"undo","source":"dream"}', "'cue-given', source"),
        ("[1, 2]", "no JSON object"),
        ('{"type":"sta', "not an event"),
    ],
)
def test_what_is_not_understood_is_refused_and_named(text, says):
    with pytest.raises(UnreadableEventError, match=says):
        event_from_json(text)


@pytest.mark.parametrize(
    "event",
    [
        Started(float("inf")),
        HearingRefused(1.0, "noise", score=float("nan")),
        CueGiven(1.0, "undo", phrase="half a \ud800 character"),
    ],
)
def test_what_could_not_be_read_back_is_not_written(event):
    with pytest.raises(UnreadableEventError, match="cannot be stored"):
        event_to_json(event)
