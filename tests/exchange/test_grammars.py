"""The grammars of every moment: what they let be said is what the product listens for then, and
the recogniser's own compiler reads them."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from sidecue.exchange.jsgf import jsgf
from sidecue.exchange.moments import moments
from sidecue.exchange.srgs import NAMESPACE, srgs
from sidecue.hearing.decoding import QUICK, GrammarDecoder
from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.port import Vocabulary

SRGS = f"{{{NAMESPACE}}}"
LANG = "{http://www.w3.org/XML/1998/namespace}lang"
Said = dict[str, str]


@pytest.fixture(scope="module")
def every(sealant):
    return list(moments(sealant))


def listened_for(plan, moment) -> Said:
    """What the ears decode at this moment, with the cue each text stands for."""
    vocabulary = Vocabulary(moment.addressed, plan.address, bare=moment.bare == moment.addressed)
    paths = grammar_of(vocabulary).paths
    return {text: path.cue.id for text, path in paths if path.cue is not None}


def of_jsgf(text: str) -> Said:
    rules = dict(re.findall(r"(?:public )?<([\w-]+)> =\s(.*?);", text, re.DOTALL))
    alternatives = {
        name: {
            phrase: cue
            for phrases, cue in re.findall(r"\(([^)]*)\) \{([^}]*)\}", rules[name])
            for phrase in phrases.split(" | ")
        }
        for name in ("cue", "bare")
    }
    (public,) = [body for name, body in rules.items() if name not in alternatives]
    address = public.removesuffix(" <cue> | <bare>")
    addressed = {f"{address} {phrase}": cue for phrase, cue in alternatives["cue"].items()}
    return addressed | alternatives["bare"]


def of_srgs(text: str) -> Said:
    root = ElementTree.fromstring(text)
    rules = {rule.get("id"): rule for rule in root.findall(f"{SRGS}rule")}

    def items(name: str) -> Said:
        return {
            " ".join((item.text or "").split()): item.findtext(f"{SRGS}tag")
            for item in rules[name].iter(f"{SRGS}item")
        }

    said: Said = {}
    for item in rules[root.get("root")].iter(f"{SRGS}item"):
        before = " ".join((item.text or "").split())
        target = item.find(f"{SRGS}ruleref").get("uri").removeprefix("#")
        said |= {f"{before} {phrase}".strip(): cue for phrase, cue in items(target).items()}
    return said


def test_there_is_a_grammar_for_each_step_a_pause_an_emergency_and_each_question(every, sealant):
    names = {moment.id for moment in every}
    assert {step.id for step in sealant.steps} <= names
    assert {"a-pause", "an-emergency", "a-question-happening", "a-value-read-back-tooth"} <= names


def test_jsgf_lets_be_said_what_the_ears_listen_for(every, sealant) -> None:
    for moment in every:
        text = jsgf(moment, sealant.address)
        assert text.startswith("#JSGF V1.0 UTF-8 en;\n")
        assert of_jsgf(text) == listened_for(sealant, moment), moment.id


def test_srgs_lets_be_said_what_the_ears_listen_for(every, sealant) -> None:
    for moment in every:
        assert of_srgs(srgs(moment, sealant.address)) == listened_for(sealant, moment), moment.id


def test_srgs_is_built_as_the_recommendation_of_2004_has_it(every, sealant) -> None:
    """Sections 2.2, 3.1, 4.1 and 4.5: elements, attributes, and rule names that are XML names."""
    allowed = {
        "grammar": ({"rule"}, {"version", LANG, "mode", "root", "tag-format"}),
        "rule": ({"one-of", "example", "ruleref"}, {"id", "scope"}),
        "one-of": ({"item"}, set()),
        "item": ({"ruleref", "tag"}, set()),
        "ruleref": (set(), {"uri", "special"}),
        "tag": (set(), set()),
        "example": (set(), set()),
    }
    for moment in every:
        root = ElementTree.fromstring(srgs(moment, sealant.address))
        assert (root.tag, root.get("version"), root.get("mode")) == (
            f"{SRGS}grammar", "1.0", "voice",
        )  # fmt: skip
        ids = {rule.get("id") for rule in root.findall(f"{SRGS}rule")}
        assert root.get("root") in ids
        assert not ids & {"NULL", "VOID", "GARBAGE"}
        for element in root.iter():
            children, attributes = allowed[element.tag.removeprefix(SRGS)]
            assert {child.tag.removeprefix(SRGS) for child in element} <= children
            assert set(element.keys()) <= attributes
        refs = {ref.get("uri") for ref in root.iter(f"{SRGS}ruleref")}
        assert refs <= {f"#{each}" for each in ids}


def test_pocketsphinx_compiles_the_jsgf_of_every_moment(every, sealant) -> None:
    engine = GrammarDecoder(QUICK)
    for word, phones in sealant.pronunciations:
        engine.pronounce(word, phones)
    decoder = engine._decoder  # what the product makes known to it counts here too
    for moment in every:
        text = jsgf(moment, sealant.address)
        for word in {word for said in of_jsgf(text) for word in said.split()}:
            assert engine.knows(word), word
        decoder.add_jsgf_string(moment.id, text)
        decoder.remove_search(moment.id)
    for broken in ("public <a> = (okay ;", "public <a> = zzxq ;"):  # the compiler can say no
        with pytest.raises(ValueError, match="JSGF"):
            decoder.add_jsgf_string("broken", f"#JSGF V1.0;\ngrammar broken;\n{broken}\n")
