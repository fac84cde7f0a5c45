"""What is said at one moment, as W3C Recommendation *Speech Synthesis Markup Language (SSML)
Version 1.1*, 7 September 2010.

A sentence for each prompt, with a break between; cautions are emphasised, alarms strongly. Figures
are `say-as` cardinal, and what is spelled (a shade) characters: values that the W3C Working Group
Note *SSML 1.0 say-as attribute values*, 26 May 2005, describes.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from xml.etree.ElementTree import Element, SubElement

from sidecue.exchange.markup import document
from sidecue.procedure.plan import Plan, Step
from sidecue.session.effects import Say, Urgency
from sidecue.session.prompts import Prompter, short_name, spoken
from sidecue.session.state import RunningTimer
from sidecue.session.timers import ALARMING, Ring

NAMESPACE = "http://www.w3.org/2001/10/synthesis"
PAUSE = "400ms"
_LEVELS = {Urgency.CAUTION: "moderate", Urgency.ALARM: "strong"}
_FIGURE = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?)(?![\w])|\b([A-Z]{1,2}\d(?:\.\d)?|[A-Z]{2,4})\b")


@dataclass(frozen=True, slots=True)
class Prompts:
    """What is said one after another at one moment."""

    id: str
    title: str
    says: tuple[Say, ...]


def prompts(plan: Plan) -> Iterator[Prompts]:
    """Yield what each step says as it is reached, with the rings of its timers; then what each
    happening, emergency and value is met with."""
    prompter = Prompter(plan)
    before: Step | None = None
    for step in plan.steps:
        says = (*prompter.announce(step, before), *_rings(prompter, step))
        yield Prompts(step.id, short_name(step.id), says)
        before = step
    for happening in plan.happenings:
        asked = prompter.text("ask-happening", prompt=happening.say)
        yield Prompts(_file(happening.cue.id), happening.cue.means, _said(asked, Urgency.CAUTION))
    for each in plan.emergencies:
        lines = tuple(Say(line, Urgency.ALARM) for line in each.says)
        yield Prompts(f"emergency-{each.id}", short_name(each.id), lines)
    for slot in plan.slots:
        read_back = (prompter.text("ask-value", value=value.say) for value in slot.values)
        says = tuple(say for text in read_back for say in _said(text, Urgency.CAUTION))
        yield Prompts(f"value-{slot.id}", f"every value of: {short_name(slot.id)}", says)


def ssml(said: Prompts) -> str:
    """Return the prompts of one moment as a document."""
    root = Element(
        "speak", {"xmlns": NAMESPACE, "version": "1.1", "xml:lang": "en-GB"}
    )  # fmt: skip
    SubElement(root, "metadata").text = said.title
    for number, say in enumerate(said.says):
        if number:
            SubElement(root, "break", {"time": PAUSE})
        sentence = SubElement(root, "s")
        level = _LEVELS.get(say.urgency)
        _written(sentence if level is None else SubElement(sentence, "emphasis", {"level": level}),
                 say.text)  # fmt: skip
    return document(root)


def _written(into: Element, text: str) -> None:
    """Write `text` into an element, its figures and what is spelled marked."""
    at, last = 0, None
    for match in _FIGURE.finditer(text):
        _put(into, last, text[at : match.start()])
        kind = "cardinal" if match.group(1) else "characters"
        last = SubElement(into, "say-as", {"interpret-as": kind})
        last.text, at = match.group(), match.end()
    _put(into, last, text[at:])


def _put(into: Element, last: Element | None, text: str) -> None:
    if last is None:
        into.text = text
    else:
        last.tail = text


def _rings(prompter: Prompter, step: Step) -> Iterable[Say]:
    """Yield what the timers of `step` say when they ring, each ring once."""
    for spec in step.timers:
        timer = RunningTimer(spec=spec, step=step.id, started=0.0, least=spec.least)
        for ring, due in ((Ring.WARN, spec.warn), (Ring.RIPE, spec.least), (Ring.OVER, spec.most)):
            if due is not None:
                alarm = ring is Ring.OVER and spec.kind in ALARMING
                text = (alarm and spec.overdue_say) or prompter.ring(timer, ring, due)
                yield Say(text, Urgency.ALARM if alarm else Urgency.ROUTINE)


def _said(text: str, urgency: Urgency) -> tuple[Say, ...]:
    return tuple(Say(each, urgency) for each in spoken(text))


def _file(cue: str) -> str:
    return cue.replace(".", "-")
