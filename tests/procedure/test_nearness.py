"""Vocabulary lint: cues that are active together and sound alike are named."""

from sidecue.procedure.nearness import Kind, Lint, lint
from sidecue.procedure.plan import Cue, Tier

LEXICON = {
    "floss": ("F L AO S",), "tied": ("T AY D",), "boss": ("B AO S",), "passes": ("P AE S AH Z",),
    "cleanly": ("K L IY N L IY",), "confirm": ("K AH N F ER M",), "that": ("DH AE T",),
    "four": ("F AO R",), "for": ("F AO R", "F ER"), "go": ("G OW",), "now": ("N AW",),
    "tide": ("T AY D",), "ready": ("R EH D IY",),
}  # fmt: skip


def spell(word: str) -> tuple[tuple[str, ...], ...]:
    return tuple(tuple(phones.split()) for phones in LEXICON.get(word, ()))


def cue(name: str, *phrases: str) -> Cue:
    return Cue(name, phrases, Tier.ADVANCE, "test")


def linted(*cues: Cue, excepted: tuple[frozenset[str], ...] = ()) -> Lint:
    return lint([("step tie", cues)], spell, {"tie.done": "isolation.yaml"}, excepted)


def test_two_that_sound_alike_are_told_in_one_line() -> None:
    (trap,) = linted(cue("tie.done", "floss tied"), cue("other", "boss tied")).traps
    assert trap.kind is Kind.NEAR
    line = str(trap)
    assert line.startswith("isolation.yaml: ")
    assert '"floss tied" (tie.done)' in line
    assert '"boss tied" (other)' in line
    assert "step tie" in line
    assert f"{trap.apart:.2f}" in line
    assert "\n" not in line


def test_the_mend_names_a_phrase_that_can_stay() -> None:
    cues = cue("tie.done", "floss tied", "confirm that"), cue("other", "boss tied")
    (trap,) = linted(*cues).traps
    assert '"confirm that" is far enough' in trap.mend


def test_cues_of_different_moments_may_sound_alike() -> None:
    moments = [("a", [cue("one", "floss tied")]), ("b", [cue("two", "boss tied")])]
    assert lint(moments, spell, {}).traps == ()


def test_phrases_of_one_cue_may_sound_alike() -> None:
    assert linted(cue("one", "floss tied", "boss tied")).traps == ()


def test_values_are_read_back_and_let_be() -> None:
    assert linted(cue("set.a", "floss tied"), cue("set.b", "boss tied")).traps == ()
    assert len(linted(cue("set.a", "floss tied"), cue("undo", "boss tied")).traps) == 1


def test_a_phrase_that_begins_another_is_a_trap() -> None:
    (trap,) = linted(cue("one", "floss tied"), cue("two", "floss tied confirm that now")).traps
    assert trap.kind is Kind.BEGINS


def test_over_half_shared_from_the_start_is_a_trap() -> None:
    (trap,) = linted(cue("one", "floss tied"), cue("two", "floss passes cleanly")).traps
    assert trap.kind is Kind.SHARED


def test_what_sounds_the_same_is_told_so_and_homophones_are_named() -> None:
    found = linted(cue("one", "floss tied"), cue("two", "floss tide"), cue("three", "ready for"),
                   cue("four", "confirm four"))  # fmt: skip
    assert [trap.kind for trap in found.traps] == [Kind.SAME]
    assert found.homophones == (("for", "four"), ("tide", "tied"))


def test_a_short_phrase_is_told() -> None:
    (trap,) = linted(cue("one", "go")).traps
    assert trap.kind is Kind.SHORT
    assert linted(cue("one", "go now")).traps == ()


def test_a_reasoned_exception_is_counted_not_told() -> None:
    pair = frozenset({"floss tied", "boss tied"})
    found = linted(cue("one", "floss tied"), cue("two", "boss tied"), excepted=(pair,))
    assert found.traps == ()
    assert len(found.excepted) == 1
    assert found.pairs == 1
