"""What may be said at a moment, as a grammar in the JSpeech Grammar Format (JSGF): W3C Note of
5 June 2000, version 1.0.

The first rule is the public one. A tag in braces names the cue that a phrase stands for.
"""

from __future__ import annotations

from collections.abc import Iterable

from sidecue.exchange.moments import Moment
from sidecue.procedure.plan import Cue


def jsgf(moment: Moment, address: str) -> str:
    """Return the grammar of `moment`; `address` is the phrase that goes before a cue."""
    lines = [
        "#JSGF V1.0 UTF-8 en;",
        f"// What may be said: {moment.title}",
        f"grammar sidecue.{moment.id};",
        "",
        f"public <{moment.id}> = {address} <cue> | <bare>;",
        *_rule("cue", moment.addressed),
        *_rule("bare", moment.bare),
    ]
    return "\n".join(lines) + "\n"


def _rule(name: str, cues: Iterable[Cue]) -> Iterable[str]:
    """Yield a rule, a line for each cue. Without any cue nothing may be said: `<VOID>`."""
    told = [f"({' | '.join(cue.phrases)}) {{{cue.id}}}" for cue in cues] or ["<VOID>"]
    yield f"<{name}> ="
    yield from (f"    {each} |" for each in told[:-1])
    yield f"    {told[-1]};"
