"""Plans as the journal keeps them."""

from __future__ import annotations

from pydantic import TypeAdapter

from sidecue.procedure.plan import Plan

_ADAPTER = TypeAdapter(Plan)


def plan_to_json(plan: Plan) -> str:
    """Return `plan` as JSON."""
    return _ADAPTER.dump_json(plan).decode()


def plan_from_json(text: str) -> Plan:
    """Read a plan back."""
    return _ADAPTER.validate_json(text)
