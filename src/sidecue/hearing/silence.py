"""What can be silenced only while it speaks.

"Quiet please" is said in a surgery to people, too; and of all we listen for without the address,
the words that silence the tool are the shortest, and were taken for talk most often (measured:
`benchmarks/listening`). While the tool is silent they would do nothing, so they do not count then.
"""

from __future__ import annotations

from dataclasses import replace

from sidecue.hearing.port import Vocabulary

SILENCING = "quiet"


def in_silence(vocabulary: Vocabulary) -> Vocabulary:
    """Return what may be heard of `vocabulary` while the tool says nothing."""
    idle = tuple(cue for cue in vocabulary.cues if cue.id == SILENCING)
    left = tuple(cue for cue in vocabulary.cues if cue not in idle)
    return replace(vocabulary, cues=left, idle=idle)
