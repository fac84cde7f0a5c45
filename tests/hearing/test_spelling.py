"""What is scored for a moment: no phrase is passed over, and a cue has its opposites."""

from __future__ import annotations

import numpy as np
import pytest
from english import ENGLISH

from sidecue.hearing.grammar import Path, grammar_of
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.phone_head import BLANK, CLASSES, LogProbabilities
from sidecue.hearing.phones import PHONES
from sidecue.hearing.spelling import PROMISING, Speller, Spelling, numbered

LEXICON = Lexicon()
#: More phrases than are scored, many of them shorter.
CROWD = tuple(f"{one} {other}" for one in ("rinse", "wedge", "dry", "lip", "no", "up", "eye")
              for other in ("on", "out", "it", "me", "ash", "tie", "shy", "lay"))  # fmt: skip


def slurred(spelling: Spelling, rng: np.random.Generator) -> LogProbabilities:
    """Its phones in a row, a fifth of them heard as another."""
    phones = list(spelling.phones)
    logs = np.log(rng.dirichlet(np.full(CLASSES, 0.05), 2 * len(phones) + 1) + 1e-6)
    for at, phone in enumerate(phones):
        heard = int(rng.integers(BLANK)) if rng.random() < 0.2 else phone
        logs[2 * at + 1] -= 6.0
        logs[2 * at + 1, heard] = -0.05
    logs[::2] -= 6.0
    logs[::2, BLANK] = -0.05
    return logs.astype(np.float32)


@pytest.mark.parametrize("seed", range(5))
def test_what_was_said_is_among_what_is_scored(seed: int) -> None:
    """A first sieve that looked at phones only, and not at what was left over, lost long cues."""
    words = grammar_of(ENGLISH.__class__(ENGLISH.cues, ENGLISH.address, decoys=CROWD))
    speller = Speller(words, LEXICON)
    assert len(speller.spellings) > PROMISING
    rng = np.random.default_rng(seed)
    for spelling in speller.spellings[:: 7 + seed]:
        scored, likely = speller.scored(slurred(spelling, rng))
        assert spelling.text in [each.text for each in scored]
        assert list(likely) == sorted(likely, reverse=True)


def test_a_cue_has_its_opposites_at_every_place_after_the_address() -> None:
    speller = Speller(grammar_of(ENGLISH), LEXICON)
    spelling = next(each for each in speller.spellings if each.text == "okay tray rinse done")
    denied = dict(spelling.denied(2, LEXICON))
    places = {"okay tray not rinse done", "okay tray rinse not done", "okay tray rinse done not"}
    assert places <= set(denied)
    assert not any(text.startswith(("not", "okay not")) for text in denied)
    assert [PHONES[phone] for phone in denied["okay tray rinse not done"]] == [
        *["OW", "K", "EY", "T", "R", "EY"], *["R", "IH", "N", "S", "N", "AA", "T", "D", "AH", "N"],
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("said", "opposite"),
    [
        ("cap is over the needle", "cap is under the needle"),
        ("finger cannot move it", "finger can move it"),
        ("moist with no pools", "moist with pools"),
        ("sixteen minutes", "sixty minutes"),
        ("sixty minutes", "sixteen minutes"),
        ("six minutes", "sixteen minutes"),
        ("forty seconds", "fourteen seconds"),
    ],
)
def test_a_word_may_be_turned_into_its_opposite(said: str, opposite: str) -> None:
    words = tuple(numbered(LEXICON.spell(word)[0]) for word in said.split())
    denied = set(Spelling(said, Path(said, None, addressed=False), words).denied(0, LEXICON))
    phones = tuple(phone for word in opposite.split() for phone in LEXICON.spell(word)[0])
    assert (opposite, numbered(phones)) in denied


def test_amid_other_talk_only_a_word_turned_into_its_opposite_denies_a_cue() -> None:
    """ "Un", "still", "no": bits of our own voice beside a stop word sound like one."""
    said = "stop talking"
    words = tuple(numbered(LEXICON.spell(word)[0]) for word in said.split())
    spelling = Spelling(said, Path(said, None, addressed=False), words)
    alone, amid = (
        {text for text, _ in spelling.denied(0, LEXICON, amid=amid)} for amid in (False, True)
    )
    assert amid < alone
    assert "start talking" in amid
    assert "not stop talking" in alone - amid
