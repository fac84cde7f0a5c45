"""The lexicon read without the engine agrees with the engine."""

from pathlib import Path

import pytest
from pocketsphinx import get_model_path

from sidecue.hearing.decoding import QUICK, GrammarDecoder
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.pronouncing import trade_words


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


def test_every_entry_is_found_with_all_its_ways_in_their_order() -> None:
    """Against a plain reading of the file, every 97th word and all of several ways among them."""
    plain: dict[str, list[tuple[str, ...]]] = {}
    for line in Path(get_model_path("en-us/cmudict-en-us.dict")).read_text("utf-8").splitlines():
        name, *phones = line.split()
        plain.setdefault(name.partition("(")[0], []).append(tuple(phones))
    own = dict(trade_words())
    words = [word for word in list(plain)[::97] if word not in own]
    assert sum(len(plain[word]) > 1 for word in words) > 50
    assert [Lexicon().spell(word) for word in words] == [tuple(plain[word]) for word in words]


def test_what_was_added_comes_first_and_hides_nothing() -> None:
    lexicon = Lexicon([("tooth", "T UW TH S")])
    assert lexicon.spell("tooth") == (("T", "UW", "TH", "S"), ("T", "UW", "TH"))
    assert lexicon.spell("rinse") == Lexicon().spell("rinse") != ()
