"""Plans as JSON, and the digest that tells two plans apart."""

from __future__ import annotations

import hashlib
import json

from pydantic import TypeAdapter, ValidationError

from sidecue.procedure.plan import Plan

_ADAPTER: TypeAdapter[Plan] = TypeAdapter(Plan)


def plan_to_json(plan: Plan, indent: int | None = None) -> str:
    """Return `plan` as JSON text."""
    return _ADAPTER.dump_json(plan, indent=indent).decode()


def plan_from_json(text: str) -> Plan:
    """Return the plan in JSON `text`, equal to the one it was written from.

    Raises ValueError with one line when it is not a plan.
    """
    try:
        return _ADAPTER.validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"]) or "the text"
        raise ValueError(f"not a stored plan: {where}: {first['msg']}") from None


def plan_digest(plan: Plan) -> str:
    """Return the SHA-256 of the plan's canonical JSON, in hexadecimal.

    Canonical: keys sorted, no spaces, UTF-8.
    """
    data = _ADAPTER.dump_python(plan, mode="json")
    canonical = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(canonical.encode()).hexdigest()
