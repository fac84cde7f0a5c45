"""A case that may not be run is refused in writing and aloud."""

from __future__ import annotations

import time
from contextlib import suppress

from sidecue.cli.setting import startable
from sidecue.cli.trouble import Trouble
from sidecue.conductor.assembly import Output, mouth_of
from sidecue.procedure.plan import Plan
from sidecue.session.effects import Say
from sidecue.speaking.port import VoiceError

MOST_SPOKEN = 3  # the rest is read; nobody listens longer
_PATIENCE = 30.0  # seconds until a loudspeaker that never ends is given up


def startable_aloud(plan: Plan, output: Output) -> Plan:
    """Return `plan` when it may be run; otherwise say why it is refused and raise Trouble.

    Without sound the refusal is still printed.
    """
    try:
        return startable(plan)
    except Trouble:
        if plan.blocks and not output.mute:
            with suppress(VoiceError, OSError):
                _say(refusal_prompts(plan), output)
        raise


def refusal_prompts(plan: Plan) -> tuple[str, ...]:
    """Return what is said about a refused plan."""
    reasons = [block.text[:1].upper() + block.text[1:] for block in plan.blocks]
    told = [reason if reason.endswith(".") else f"{reason}." for reason in reasons[:MOST_SPOKEN]]
    more = len(reasons) - len(told)
    rest = [f"And {more} more; read the screen."] if more else []
    return ("This case is refused.", *told, *rest)


def _say(prompts: tuple[str, ...], output: Output) -> None:
    mouth = mouth_of(output, lambda fault: None)
    try:
        began = time.monotonic()
        ends = 0.0
        for prompt in prompts:
            ends = mouth.carry_out((Say(prompt),), ends)
        if output.to_file is None:
            left = began + min(ends, _PATIENCE) - time.monotonic()
            time.sleep(max(0.0, left))
    finally:
        mouth.close()
