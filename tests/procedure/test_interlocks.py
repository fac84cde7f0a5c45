"""The one function that judges facts: an act needs what came before; some facts never meet."""

from __future__ import annotations

from collections.abc import Iterable

from hypothesis import given
from hypothesis import strategies as st

from sidecue.procedure.interlocks import matches, violations
from sidecue.procedure.plan import Rule

TIE_FIRST = Rule("tie-first", "First tie floss.", "source", act="clamp-in", needs=("tied",))
APART = Rule("apart", "Never both.", "source", never=("varnish", "resin"))
DAM = (("isolation", ("dam",)),)
ONLY_DAM = Rule("only-dam", "First cut.", "source", act="dam-off", needs=("cut",), when=DAM)
FACTS = st.frozensets(st.sampled_from(["tied", "clamp-in", "varnish", "resin", "cut", "dam-off"]))


def broken(before: set[str], gained: set[str], lost: Iterable[str] = (), **case: str) -> list[str]:
    facts = {key: (value,) for key, value in case.items()}
    rules = (TIE_FIRST, APART, ONLY_DAM)
    return [rule.id for rule in violations(rules, frozenset(before), gained, facts, lost)]


def test_no_clamp_goes_in_before_it_is_tied() -> None:
    assert broken(set(), {"clamp-in"}) == ["tie-first"]
    assert broken({"tied"}, {"clamp-in"}) == []


def test_tying_and_placing_in_the_same_moment_is_too_late() -> None:
    assert broken(set(), {"tied", "clamp-in"}) == ["tie-first"]


def test_varnish_and_resin_never_meet_in_either_order_or_at_once() -> None:
    assert broken({"varnish"}, {"resin"}) == ["apart"]
    assert broken({"resin"}, {"varnish"}) == ["apart"]
    assert broken(set(), {"varnish", "resin"}) == ["apart"]


def test_what_is_lost_in_the_moment_no_longer_meets() -> None:
    assert broken({"varnish"}, {"resin"}, {"varnish"}) == []
    assert broken({"varnish"}, {"varnish", "resin"}, {"varnish"}) == ["apart"]


def test_a_rule_holds_only_for_its_cases() -> None:
    assert broken(set(), {"dam-off"}, isolation="dam") == ["only-dam"]
    assert broken(set(), {"dam-off"}, isolation="rolls") == []


def test_a_condition_needs_one_value_of_every_key() -> None:
    case = {"flags": ("latex", "heart"), "isolation": ("dam",)}
    assert matches([("flags", ["latex", "resin"]), ("isolation", ["dam"])], case)
    assert not matches([("flags", ["latex"]), ("isolation", ["rolls"])], case)
    assert not matches([("material", ["composite"])], case)
    assert matches([], case)


@given(FACTS, FACTS, FACTS)
def test_facts_that_pass_keep_every_rule(
    before: frozenset[str], gained: frozenset[str], lost: frozenset[str]
) -> None:
    after = (before - lost) | gained
    found = {rule.id for rule in violations((TIE_FIRST, APART), before, gained, {}, lost)}
    assert ("tie-first" in found) == ("clamp-in" in gained and "tied" not in before)
    if not {"varnish", "resin"} <= before:
        assert ("apart" in found) == ({"varnish", "resin"} <= after)


@given(FACTS, FACTS)
def test_gaining_nothing_new_of_a_rule_breaks_nothing(
    before: frozenset[str], lost: frozenset[str]
) -> None:
    assert violations((TIE_FIRST, APART, ONLY_DAM), before, (), {}, lost) == ()
