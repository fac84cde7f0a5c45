"""What may be said at a moment, in the XML form of the W3C Recommendation *Speech Recognition
Grammar Specification Version 1.0*, 16 March 2004.

Tags hold the cue's id as plain text: the literals of *Semantic Interpretation for Speech
Recognition (SISR) Version 1.0*, W3C Recommendation, 5 April 2007.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element, SubElement

from sidecue.exchange.markup import document
from sidecue.exchange.moments import Moment
from sidecue.procedure.plan import Cue

NAMESPACE = "http://www.w3.org/2001/06/grammar"


def srgs(moment: Moment, address: str) -> str:
    """Return the grammar of `moment`; `address` is the phrase that goes before a cue."""
    root = Element(
        "grammar",
        {
            "xmlns": NAMESPACE, "version": "1.0", "xml:lang": "en", "mode": "voice",
            "root": "said", "tag-format": "semantics/1.0-literals",
        },
    )  # fmt: skip
    said = SubElement(root, "rule", {"id": "said", "scope": "public"})
    SubElement(said, "example").text = f"{address} {moment.addressed[0].phrases[0]}"
    either = SubElement(said, "one-of")
    addressed = SubElement(either, "item")
    addressed.text = f"{address} "
    SubElement(addressed, "ruleref", {"uri": "#cue"})
    SubElement(SubElement(either, "item"), "ruleref", {"uri": "#bare"})
    _rule(root, "cue", moment.addressed)
    _rule(root, "bare", moment.bare)
    return document(root)


def _rule(root: Element, name: str, cues: Iterable[Cue]) -> None:
    rule = SubElement(root, "rule", {"id": name, "scope": "private"})
    each = [(cue, phrase) for cue in cues for phrase in cue.phrases]
    if not each:
        SubElement(rule, "ruleref", {"special": "VOID"})
        return
    either = SubElement(rule, "one-of")
    for cue, phrase in each:
        item = SubElement(either, "item")
        item.text = f"{phrase} "
        SubElement(item, "tag").text = cue.id
