"""Executable content of an SCXML document, written piece by piece."""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element, SubElement

from sidecue.exchange.conditions import Cond


class Content:
    """What happens on one transition or entry: the children of `element`, in order."""

    def __init__(self, element: Element) -> None:
        self.element = element

    def let(self, name: str, value: object) -> None:
        """Assign the expression `value` to the variable `name`."""
        SubElement(self.element, "assign", {"location": name, "expr": str(value)})

    def clear(self, names: Iterable[str]) -> None:
        """Assign 0 to each of `names`."""
        for name in names:
            self.let(name, 0)

    def tell(self, event: str) -> None:
        """Raise `event` inside the document."""
        SubElement(self.element, "raise", {"event": event})

    def when(self, condition: Cond) -> Content:
        """Return where to write what happens only if `condition`; nothing comes of False."""
        if condition is True:
            return self
        if condition is False:
            return Content(Element("if"))
        return Content(SubElement(self.element, "if", {"cond": str(condition)}))

    def otherwise(self, condition: Cond | None = None) -> None:
        """Begin the other branch of this `when`; with a condition, another one of several."""
        if condition is None:
            SubElement(self.element, "else")
        else:
            SubElement(self.element, "elseif", {"cond": str(condition)})


def transition(
    parent: Element, event: str | None = None, condition: Cond = True, target: str | None = None
) -> Content:
    """Add a transition, unless its condition is never true, and return its content."""
    named = {"event": event, "cond": None if condition is True else condition, "target": target}
    attributes = {name: str(value) for name, value in named.items() if value is not None}
    if condition is False:
        return Content(Element("transition"))
    return Content(SubElement(parent, "transition", attributes))


def entry(parent: Element) -> Content:
    """Add what happens on entering `parent`."""
    return Content(SubElement(parent, "onentry"))
