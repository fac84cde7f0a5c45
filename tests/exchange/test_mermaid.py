"""The Mermaid drawing: every step, in order, every way back, and nothing but what a
`stateDiagram-v2` may have, checked line by line (no Mermaid program is at hand)."""

from __future__ import annotations

import re

from sidecue.exchange.mermaid import mermaid

NAME = r"(?:\[\*\]|step_[a-z0-9_]+)"
STATE = re.compile(r'state "[^":]+" as (step_[a-z0-9_]+)\Z')
ARROW = re.compile(rf"({NAME}) --> ({NAME})(?:: [^:;{{}}]+)?\Z")


def test_every_step_its_cue_and_every_way_back_is_drawn(small) -> None:
    lines = [line.strip() for line in mermaid(small).splitlines()]
    assert lines[0] == "stateDiagram-v2"
    assert "[*] --> step_agree" in lines
    assert "step_etch --> step_rinse: etch done" in lines
    assert "step_leave --> [*]: leave done" in lines
    assert "step_etch --> step_etch: saliva" in lines
    assert "step_mix --> step_mix: packing is over" in lines
    assert sum(line.startswith("state ") for line in lines) == len(small.steps)


def test_every_line_is_a_state_or_an_arrow_between_declared_states(sealant) -> None:
    lines = [line.strip() for line in mermaid(sealant).splitlines()[1:]]
    states = {found.group(1) for line in lines if (found := STATE.match(line))}
    arrows = [ARROW.match(line) for line in lines if not line.startswith("state ")]
    assert all(arrows)
    ends = {end for found in arrows if found for end in found.groups()} - {"[*]"}
    assert ends == states
    assert len(states) == len(sealant.steps)
