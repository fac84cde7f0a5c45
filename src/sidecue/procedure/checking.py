"""Meaning: what fits the schema and is still wrong."""

from __future__ import annotations

from sidecue.procedure.gathering import Gathered
from sidecue.procedure.source import Fault


def check_library(gathered: Gathered) -> list[Fault]:
    """Return every fault of meaning, with its line."""
    return []
