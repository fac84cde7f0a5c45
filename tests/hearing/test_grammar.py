"""Which words may be decoded at a moment, and what they count for."""

from __future__ import annotations

from dataclasses import replace

from english import ENGLISH

from sidecue.hearing.grammar import focused, grammar_of
from sidecue.hearing.pronouncing import trade_words
from sidecue.procedure.plan import Tier


def cue_of(text: str, **changes: bool) -> str | None:
    path = grammar_of(replace(ENGLISH, **changes)).find(text)
    return path.cue.id if path is not None and path.cue is not None else None


def test_the_address_is_needed_but_not_by_stop_words() -> None:
    assert cue_of("okay tray rinse done") == "rinse-done"
    assert cue_of("rinse done") is None
    assert cue_of("stop talking") == "stop-talking"
    assert cue_of("okay tray stop talking") == "stop-talking"


def test_a_reply_needs_none() -> None:
    assert cue_of("rinse done", bare=True) == "rinse-done"


def test_while_speaking_only_the_stop_tier_counts_even_in_a_reply_window() -> None:
    for cue in ENGLISH.cues:
        expected = cue.id if cue.tier is Tier.STOP else None
        assert cue_of(cue.phrases[0], stop_only=True, bare=True) == expected


def test_decoys_never_act_and_never_displace_a_cue() -> None:
    assert cue_of("okay tray start talking") is None
    clashing = replace(ENGLISH, decoys=("rinse done",))
    path = grammar_of(clashing).find("okay tray rinse done")
    assert path is not None
    assert path.cue is not None


def test_a_part_is_no_cue_and_a_longer_phrase_is_known() -> None:
    grammar = grammar_of(ENGLISH)
    assert grammar.find("okay tray rinse") is None
    assert grammar.extends("okay tray rinse")
    assert not grammar.extends("okay tray rinse done")


def test_the_nearest_decoys_are_kept() -> None:
    phones = {"start": ("S", "T", "AA", "R", "T"), "stop": ("S", "T", "AA", "P")}
    grammar = grammar_of(replace(ENGLISH, decoys=("start talking", "open a bit wider")))
    near = focused(grammar, lambda word: phones.get(word, tuple(word.upper())), 1)
    kept = {path.phrase for _, path in near.paths}
    assert "start talking" in kept
    assert "open a bit wider" not in kept
    assert {phrase for cue in ENGLISH.cues for phrase in cue.phrases} <= kept


def test_trade_words_have_phones() -> None:
    assert all(phones for _, phones in trade_words())
