"""From a decoded path and a probability to a hearing: the rules all engines share."""

from __future__ import annotations

from collections.abc import Callable

from sidecue.hearing.grammar import Path
from sidecue.hearing.port import Hearing, Vocabulary
from sidecue.procedure.plan import Tier

_REFUSED = "nothing is done"

Accepts = Callable[[float, Tier], bool]


def nothing(times: tuple[float, float], phrase: str, why: str, score: float = 0.0) -> Hearing:
    """A hearing that does nothing, and why."""
    return Hearing(*times, None, phrase, score, None, f"{why}; {_REFUSED}")


def judged(
    path: Path,
    score: float,
    accepts: Accepts,
    vocabulary: Vocabulary,
    times: tuple[float, float],
) -> Hearing:
    """Judge a path found at `times` (start, end in seconds) with probability `score`."""
    if path.cue is None:
        return nothing(times, path.phrase, _why_not(path, vocabulary), score)
    if not accepts(score, _as_sure_as(path.cue.tier, addressed=path.addressed)):
        why = f"{_unsure(path, vocabulary)}; {_REFUSED}"
        return Hearing(*times, None, path.phrase, score, path.cue.tier, why)
    return Hearing(*times, path.cue.id, path.phrase, score, path.cue.tier, "accepted")


def _as_sure_as(tier: Tier, *, addressed: bool) -> Tier:
    """Whose threshold counts: who addresses the tool means it, so an alarm passes as a stop does.

    Nobody says the address phrase in talk that is not meant for the tool.
    """
    return Tier.STOP if tier is Tier.ALARM and addressed else tier


def _unsure(path: Path, vocabulary: Vocabulary) -> str:
    alarm = path.cue is not None and path.cue.tier is Tier.ALARM
    begin = f": begin with {vocabulary.address!r}" if alarm and not path.addressed else ""
    return f"not sure enough{begin}"


def _why_not(path: Path, vocabulary: Vocabulary) -> str:
    if any(path.phrase in cue.phrases for cue in vocabulary.idle):
        return "the tool says nothing now"
    if not any(path.phrase in cue.phrases for cue in vocabulary.cues):
        return "not a cue of this step"
    if vocabulary.stop_only:
        return "only stops and alarms count while the tool speaks"
    return f"said without {vocabulary.address!r}"
