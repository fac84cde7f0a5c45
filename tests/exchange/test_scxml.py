"""The exported state chart against the W3C Recommendation *State Chart XML (SCXML)*, 1 September
2015: elements, attributes and references as its sections 3 to 6 have them."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from sidecue.exchange.conditions import both, either, opposite, within
from sidecue.exchange.questions import event_of
from sidecue.exchange.scxml import NAMESPACE, OURS, scxml

SCXML = f"{{{NAMESPACE}}}"
NOTES = f"{{{OURS}}}"
CONTENT = {"assign", "if", "raise"}
#: Sections 3.2 to 3.9, 4.2, 4.3, 5.2 to 5.4: children and attributes of what we write.
ALLOWED = {
    "scxml": ({"datamodel", "parallel"}, {"version", "datamodel", "initial", "name"}),
    "datamodel": ({"data"}, set()),
    "data": (set(), {"id", "expr"}),
    "parallel": ({"state"}, {"id"}),
    "state": ({"state", "final", "transition", "onentry"}, {"id", "initial"}),
    "final": (set(), {"id"}),
    "transition": (CONTENT, {"event", "cond", "target"}),
    "onentry": (CONTENT, set()),
    "if": (CONTENT | {"else", "elseif"}, {"cond"}),
    "elseif": (set(), {"cond"}),
    "else": (set(), set()),
    "assign": (set(), {"location", "expr"}),
    "raise": (set(), {"event"}),
}
NCNAME = re.compile(r"[A-Za-z_][\w.-]*\Z")
EVENT = re.compile(r"[\w:-]+(\.[\w:-]+)*\Z")
#: What ECMAScript and Python read alike, after texts were taken out.
ALIKE = re.compile(
    r"(?:\s|\d+(?:\.\d+)?|[\[\](),+*-]|[<>]=?|[=!]=|&&|\|\||false"
    r"|_event\.(?:name|data\.at)|In\(|[a-z]\w*)*\Z"
)


@pytest.fixture(scope="module", params=["small", "sealant"])
def root(request):
    return ElementTree.fromstring(scxml(request.getfixturevalue(request.param)))


def named(root, name: str) -> list[ElementTree.Element]:
    return list(root.iter(SCXML + name))


def test_only_elements_and_attributes_of_the_standard_are_used(root) -> None:
    assert root.tag == f"{SCXML}scxml"
    assert root.get("version") == "1.0"
    for element in root.iter():
        name = element.tag.removeprefix(SCXML)
        children, attributes = ALLOWED[name]
        assert {child.tag.removeprefix(SCXML) for child in element} <= children, name
        assert {each for each in element.attrib if not each.startswith(NOTES)} <= attributes, name


def test_every_state_has_an_id_of_its_own_and_every_target_is_one(root) -> None:
    ids = [each.get("id") for name in ("state", "parallel", "final") for each in named(root, name)]
    assert all(NCNAME.match(each) for each in ids)
    assert len(set(ids)) == len(ids)
    targets = {each.get("target") for each in named(root, "transition")} - {None}
    targets |= {each.get("initial") for each in root.iter()} - {None}
    assert targets <= set(ids)
    asked = {state for text in expressions(root) for state in re.findall(r"In\('([^']*)'\)", text)}
    assert asked <= set(ids)


def test_every_event_is_a_name_that_no_other_begins_with(root) -> None:
    events = {e for t in named(root, "transition") for e in (t.get("event") or "").split()}
    assert all(EVENT.match(event) for event in events)
    steps = {event for event in events if event.endswith((".done", ".begin"))}
    assert not [(a, b) for a in steps for b in events if b.startswith(f"{a}.")]


def expressions(root) -> list[str]:
    return [each.get(name) for each in root.iter() for name in ("cond", "expr") if each.get(name)]


def test_expressions_are_read_alike_by_ecmascript_and_python(root) -> None:
    for text in expressions(root):
        assert ALIKE.match(re.sub(r"'[^']*'", "0", text.replace("In('", "In(0,'"))), text


def test_every_name_is_declared_once(root) -> None:
    declared = [each.get("id") for each in named(root, "data")]
    assert len(set(declared)) == len(declared)
    assert {each.get("location") for each in named(root, "assign")} <= set(declared)
    for text in expressions(root):
        bare = re.sub(r"'[^']*'|_event\.[a-z.]+|\bIn\b|\bfalse\b", "", text)
        assert set(re.findall(r"[a-z]\w*", bare)) <= set(declared), text


def test_every_step_is_a_state_and_leads_on(small) -> None:
    root = ElementTree.fromstring(scxml(small))
    ids = {each.get("id") for each in named(root, "state")}
    for step in small.steps:
        assert f"at.{step.id}" in ids
        if step.begin is not None:
            assert {f"at.{step.id}.before", f"at.{step.id}.begun"} <= ids
    assert {f"emergency.{each.id}" for each in small.emergencies} < ids
    assert {"ready", "running", "paused", "emergency", "silent", "asked"} < ids


def test_a_decimal_point_in_a_cue_is_no_token_of_its_event() -> None:
    assert event_of("set.depth.2.5") == "cue.set.depth.2_5"
    assert event_of("etch-enamel.done") == "cue.etch-enamel.done"


def test_what_the_plan_decides_is_left_out_of_a_condition() -> None:
    assert both(True, "a == 1", True) == "a == 1"
    assert both("a == 1", False) is False
    assert both() is True
    assert either(False, "a == 1", "b == 1 && c == 1") == "(a == 1 || (b == 1 && c == 1))"
    assert either("a == 1", True) is True
    assert either() is False
    assert opposite("f_etched == 1") == "f_etched == 0"
    assert within([4, 5, 6, 9]) == "((spot >= 4 && spot <= 6) || spot == 9)"
