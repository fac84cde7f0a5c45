"""A cue that a voice is not heard with is named, with other words for it that may be said."""

from __future__ import annotations

from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.port import Vocabulary
from sidecue.hearing.rewording import confused, far_enough
from sidecue.hearing.tuning import Trial
from sidecue.procedure.nearness import LEAST_APART, spelled
from sidecue.procedure.phones import distance
from sidecue.procedure.plan import Cue, Tier

LIMITS = dict.fromkeys(Tier, 0.5)
RINSE = Cue("rinse", ("rinse done", "acid is washed off", "rings are done"), Tier.ADVANCE, "")
RING = Cue("ring", ("rings are on",), Tier.ADVANCE, "")
MOMENT = Vocabulary((RINSE, RING), "okay tray")
SPELL = Lexicon().spell


def said(phrase: str, score: float, heard: str | None = "rinse", read_as: str = "") -> Trial:
    return Trial("rinse", phrase, Tier.ADVANCE, heard, read_as or phrase, Tier.ADVANCE, score)


def found(*trials: Trial):
    return list(confused(trials, [(RINSE, MOMENT)], LIMITS, SPELL))


def test_phrases_that_are_heard_are_not_named():
    assert found(said("rinse done", 0.9)) == []


def test_what_this_voice_was_heard_well_with_is_suggested_first():
    (each,) = found(said("rinse done", 0.3), said("acid is washed off", 0.9))
    assert (each.better, each.proven) == (("acid is washed off",), True)


def test_what_was_not_tried_is_suggested_as_that_and_only_where_it_sounds_unlike_other_cues():
    (each,) = found(said("rinse done", 0.9, "ring", "rings are on"))
    assert each.trial.misread
    assert (each.better, each.proven) == (("acid is washed off",), False)


def test_how_far_is_far_is_what_the_vocabulary_check_asks_for():
    near = distance(spelled("rings are done", SPELL), spelled("rings are on", SPELL))
    assert near < LEAST_APART
    assert far_enough(RINSE.phrases, RINSE, MOMENT, SPELL)[0] == "acid is washed off"
    assert "rings are done" not in far_enough(RINSE.phrases, RINSE, MOMENT, SPELL)


def test_nothing_is_made_up_where_no_phrase_is_left():
    (*_, last) = found(*(said(phrase, 0.2) for phrase in RINSE.phrases))
    assert last.better == ()
