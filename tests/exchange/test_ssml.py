"""The prompts as SSML: W3C Recommendation *Speech Synthesis Markup Language Version 1.1*, 2010."""

from __future__ import annotations

from xml.etree import ElementTree

from sidecue.exchange.ssml import NAMESPACE, Prompts, prompts, ssml
from sidecue.session.effects import Say, Urgency

SSML = f"{{{NAMESPACE}}}"
LANG = "{http://www.w3.org/XML/1998/namespace}lang"
#: Sections 3.1 and 3.2, as far as we use them.
ALLOWED = {
    "speak": ({"metadata", "s", "break"}, {"version", LANG}),
    "metadata": (set(), set()),
    "s": ({"emphasis", "say-as"}, set()),
    "emphasis": ({"say-as"}, {"level"}),
    "say-as": (set(), {"interpret-as"}),
    "break": (set(), {"time"}),
}


def sentences(root) -> list[str]:
    return ["".join(each.itertext()).strip() for each in root.findall(f"{SSML}s")]


def test_every_prompt_of_a_visit_is_said_word_for_word(sealant) -> None:
    written = {said.id: said for said in prompts(sealant)}
    for step in sealant.steps:
        root = ElementTree.fromstring(ssml(written[step.id]))
        assert sentences(root)[0] == step.say
        assert sentences(root) == [say.text for say in written[step.id].says]
    for emergency in sealant.emergencies:
        root = ElementTree.fromstring(ssml(written[f"emergency-{emergency.id}"]))
        assert sentences(root) == list(emergency.says)
        levels = {each.get("level") for each in root.iter(f"{SSML}emphasis")}
        assert levels == {"strong"}


def test_it_is_built_as_the_recommendation_has_it(small, sealant) -> None:
    for plan in (small, sealant):
        for said in prompts(plan):
            root = ElementTree.fromstring(ssml(said))
            assert (root.tag, root.get("version"), root.get(LANG)) == (
                f"{SSML}speak", "1.1", "en-GB",
            )  # fmt: skip
            assert root[0].tag == f"{SSML}metadata"  # metadata come before anything said
            for element in root.iter():
                children, attributes = ALLOWED[element.tag.removeprefix(SSML)]
                assert {child.tag.removeprefix(SSML) for child in element} <= children
                assert set(element.keys()) <= attributes


def test_figures_are_numbers_and_what_is_spelled_is_spelled() -> None:
    says = (Say("Wait 12.5 more seconds, shade A3.5."), Say("Stop."), Say("Dry 4.", Urgency.ALARM))
    text = ssml(Prompts("x", "a test", says))
    assert '<say-as interpret-as="cardinal">12.5</say-as> more seconds, shade' in text
    assert '<say-as interpret-as="characters">A3.5</say-as>.' in text
    assert '<emphasis level="strong">Dry <say-as interpret-as="cardinal">4</say-as>.' in text
    assert text.count('<break time="400ms" />') == 2
