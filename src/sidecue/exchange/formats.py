"""Every format a plan can be given out in: files by name, as text."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sidecue.exchange.graphviz import graphviz
from sidecue.exchange.jsgf import jsgf
from sidecue.exchange.mermaid import mermaid
from sidecue.exchange.moments import moments
from sidecue.exchange.scxml import scxml
from sidecue.exchange.srgs import srgs
from sidecue.exchange.ssml import prompts, ssml
from sidecue.procedure.plan import Plan

Files = Iterator[tuple[str, str]]  # a name without its suffix, and the text


@dataclass(frozen=True, slots=True)
class Format:
    """One format; `whole` when a plan is one file in it."""

    name: str
    suffix: str
    whole: bool
    files: Callable[[Plan], Files]


def _one(write: Callable[[Plan], str]) -> Callable[[Plan], Files]:
    def files(plan: Plan) -> Files:
        yield plan.procedure, write(plan)

    return files


def _jsgf(plan: Plan) -> Files:
    return ((moment.id, jsgf(moment, plan.address)) for moment in moments(plan))


def _srgs(plan: Plan) -> Files:
    return ((moment.id, srgs(moment, plan.address)) for moment in moments(plan))


def _ssml(plan: Plan) -> Files:
    return ((said.id, ssml(said)) for said in prompts(plan))


FORMATS = {
    each.name: each
    for each in (
        Format("scxml", ".scxml", whole=True, files=_one(scxml)),
        Format("graphviz", ".dot", whole=True, files=_one(graphviz)),
        Format("mermaid", ".mmd", whole=True, files=_one(mermaid)),
        Format("jsgf", ".gram", whole=False, files=_jsgf),
        Format("srgs", ".grxml", whole=False, files=_srgs),
        Format("ssml", ".ssml", whole=False, files=_ssml),
    )
}
