"""Figures of a bench: percentiles, the machine, one JSON file each."""

from __future__ import annotations

import json
import os
import platform
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.table import Table

RESULTS = Path(__file__).parent / "results"


def machine() -> dict[str, Any]:
    """The machine, and how busy it was at the end: that decides what timings are worth."""
    cores = {1: "one", 2: "two", 4: "four"}.get(os.cpu_count() or 0, str(os.cpu_count()))
    return {
        "machine": f"{cores} {platform.machine().replace('_', '-')} cores",
        "Python": platform.python_version(),
        "load of the last minute": round(os.getloadavg()[0], 1),
    }


def spread(seconds: Sequence[float]) -> dict[str, Any]:
    """Middle, 95th percentile and worst, in whole milliseconds."""
    if not seconds:
        return {"count": 0}
    p50, p95, worst = (round(1000 * float(np.percentile(seconds, q))) for q in (50, 95, 100))
    return {"count": len(seconds), "p50 ms": p50, "p95 ms": p95, "worst ms": worst}


def leave(name: str, found: dict[str, Any], note: str = "") -> Path:
    """Write the figures to `results/NAME.json`, print them, return the path."""
    RESULTS.mkdir(exist_ok=True)
    path = RESULTS / f"{name}.json"
    whole = {**machine(), **({"note": note} if note else {}), **found}
    path.write_text(json.dumps(whole, indent=2) + "\n", encoding="utf-8")
    table = Table("figure", "value", title=name)
    for key, value in whole.items():
        shown = (
            value
            if not isinstance(value, dict)
            else ", ".join(f"{k} {v}" for k, v in value.items())
        )
        table.add_row(key, str(shown))
    Console().print(table)
    return path
