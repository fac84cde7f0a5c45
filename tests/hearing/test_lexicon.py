"""The lexicon read without the engine agrees with the engine."""

import pytest

from sidecue.hearing.decoding import QUICK, GrammarDecoder
from sidecue.hearing.lexicon import Lexicon


@pytest.mark.parametrize(
    "word", ["tooth", "read", "etchant", "rinsed", "burnished", "zzzz", "okay"]
)
def test_it_knows_what_the_engine_knows(word: str) -> None:
    engine = GrammarDecoder(QUICK)
    known = engine.knows(word)
    spelled = Lexicon().spell(word)
    assert bool(spelled) == known
    if known:
        assert engine.phones(word) in spelled


def test_what_was_added_comes_first_and_hides_nothing() -> None:
    lexicon = Lexicon([("tooth", "T UW TH S")])
    assert lexicon.spell("tooth") == (("T", "UW", "TH", "S"), ("T", "UW", "TH"))
    assert lexicon.spell("rinse") == Lexicon().spell("rinse") != ()
