import pytest
from hypothesis import given
from hypothesis import strategies as st
from lesson_plan import lesson_plan

from sidecue.training.lesson import LineKind, lesson
from sidecue.training.shadowing import (
    CUES,
    Wish,
    asking,
    pacing,
    sections,
    shadow,
    wish_of,
)

LINES = lesson(lesson_plan())


def steps_heard(wishes):
    heard = []
    given_wishes = iter(wishes)

    def say(line):
        if line.kind in (LineKind.STEP, LineKind.CLOSING):
            heard.append(line.step or "the end")

    how_far = shadow(LINES, say, lambda: next(given_wishes, Wish.STOP))
    return heard, how_far


def test_next_after_each_step_leads_to_the_end():
    heard, how_far = steps_heard([Wish.NEXT] * 20)
    assert heard == ["look", "inject", "clamp", "etch", "rinse", "bite", "the end"]
    assert how_far.whole


def test_again_says_the_same_step_and_back_the_one_before():
    heard, how_far = steps_heard([Wish.NEXT, Wish.AGAIN, Wish.NEXT, Wish.BACK, Wish.NEXT])
    assert heard == ["look", "look", "inject", "look", "inject"]
    assert (how_far.sections_heard, how_far.sections, how_far.whole) == (3, 8, False)


def test_back_at_the_opening_stays_there():
    heard, _ = steps_heard([Wish.BACK, Wish.BACK, Wish.NEXT])
    assert heard == ["look"]


def test_stop_ends_the_lesson_at_once():
    assert steps_heard([Wish.STOP])[0] == []


@given(st.lists(st.sampled_from(Wish)))
def test_no_wish_leads_out_of_the_lesson(wishes):
    heard, how_far = steps_heard(wishes)
    assert how_far.sections_heard <= how_far.sections
    assert how_far.whole == ("the end" in heard)


@pytest.mark.parametrize(
    ("typed", "wish"),
    [
        ("", Wish.NEXT),
        ("next", Wish.NEXT),
        ("  Next   STEP ", Wish.NEXT),
        ("what comes next", Wish.NEXT),
        ("again", Wish.AGAIN),
        ("go back one step", Wish.BACK),
        ("stop the lesson", Wish.STOP),
        ("next week maybe", None),
        ("don't stop", None),
        ("nextstep", None),
    ],
)
def test_only_a_whole_phrase_is_a_wish(typed, wish):
    assert wish_of(typed) is wish


def test_what_is_not_understood_changes_nothing_and_says_so():
    lines = iter(["nxt", "hm", "next", None])
    unsure = []
    wish = asking(lambda: next(lines), lambda: unsure.append("?"))
    assert wish() is Wish.NEXT
    assert unsure == ["?", "?"]
    assert wish() is Wish.STOP  # end of input


def test_a_pace_waits_between_steps_and_not_after_the_last():
    waited = []
    assert shadow(LINES, lambda _: None, pacing(7.5, waited.append)).whole
    assert waited == [7.5] * (len(sections(LINES)) - 1)


@pytest.mark.parametrize("seconds", [-1.0, float("nan"), float("inf")])
def test_an_impossible_pace_is_refused(seconds):
    with pytest.raises(ValueError, match="pace"):
        pacing(seconds, lambda _: None)


def test_spoken_wishes_are_told_apart_and_each_is_a_wish():
    phrases = [phrase for cue in CUES for phrase in cue.phrases]
    assert len(set(phrases)) == len(phrases)
    assert {Wish(cue.id) for cue in CUES} == set(Wish)
    assert all(wish_of(phrase) is Wish(cue.id) for cue in CUES for phrase in cue.phrases)
