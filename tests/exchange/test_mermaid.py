"""A plan drawn as a state diagram shows every step, in order, and every way back."""

from __future__ import annotations

from pathlib import Path

from small_library import case, library

from sidecue.exchange.mermaid import mermaid
from sidecue.procedure.planning import plan


def test_every_step_its_cue_and_every_way_back_is_drawn(tmp_path: Path) -> None:
    loaded = library(tmp_path)
    found = plan(loaded, "filling", case(), loaded.practices["office"])
    lines = [line.strip() for line in mermaid(found).splitlines()]
    assert lines[0] == "stateDiagram-v2"
    assert "[*] --> shade" in lines
    assert "shade --> etch: shade is noted" in lines
    assert "polish --> [*]: polish finished" in lines
    assert "etch --> etch: saliva got in" in lines
    assert sum(line.startswith("state ") for line in lines) == len(found.steps)
