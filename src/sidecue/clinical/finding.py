"""A finding: something the team should hear about, with who says so.

Findings inform; the licensed clinician decides. Only a `BLOCK` stops a plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding asks of the team."""

    NOTE = "note"  # worth saying
    QUERY = "query"  # unusual: ask whether it is meant
    WARN = "warn"  # caution
    BLOCK = "block"  # refused, with a reason


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding: its severity, a plain sentence, and the source of the rule."""

    severity: Severity
    text: str
    source: str


def note(text: str, source: str) -> Finding:
    """Return a finding worth saying."""
    return Finding(Severity.NOTE, text, source)


def query(text: str, source: str) -> Finding:
    """Return a finding that asks whether something unusual is meant."""
    return Finding(Severity.QUERY, text, source)


def warn(text: str, source: str) -> Finding:
    """Return a caution."""
    return Finding(Severity.WARN, text, source)


def block(text: str, source: str) -> Finding:
    """Return a refusal."""
    return Finding(Severity.BLOCK, text, source)


def blocks(findings: tuple[Finding, ...]) -> bool:
    """Tell whether any of `findings` refuses."""
    return any(finding.severity is Severity.BLOCK for finding in findings)
