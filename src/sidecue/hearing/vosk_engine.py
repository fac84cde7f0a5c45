"""The Vosk engine: any model folder with a dynamic graph, held in a child process.

Vosk turns a phrase list into a back-off bigram, so words recombine and its confidence says little:
only a whole phrase counts, and confidence may veto but never vouch.
"""

from __future__ import annotations

import contextlib
import queue
import subprocess
import sys
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from sidecue.hearing.conditioning import with_floor
from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.judgement import judged, nothing
from sidecue.hearing.models import ModelError, first_usable, inspect
from sidecue.hearing.port import RATE, Hearing, Samples, Vocabulary
from sidecue.hearing.vosk_child import receive, send
from sidecue.procedure.plan import Tier

# Below this confidence of its weakest word a phrase is refused. Not tuned per model: `tune` does.
VETO: Mapping[Tier, float] = {
    Tier.FREE: 0.5,
    Tier.ADVANCE: 0.7,
    Tier.GUARDED: 0.85,
    Tier.STOP: 0.7,
    Tier.ALARM: 0.85,
}
LOAD_WITHIN = 60.0  # seconds; a large model is slow to read from a cold disk
ANSWER_WITHIN = 10.0

_Answer = tuple[dict[str, Any], bytes] | None


class VoskRecogniser:
    """Judges utterances with a Vosk model. One thread owns it."""

    name = "vosk"

    def __init__(self, model: Path | None, veto: Mapping[Tier, float] | None = None) -> None:
        """Load a model folder, or the first usable one found when `model` is None.

        Raises ModelError when there is none, or it is unfit or does not load.
        """
        checked = first_usable() if model is None else inspect(model)
        if checked.fault:
            raise ModelError(f"model {model or checked.name}: {checked.fault}")
        self._model = checked.path
        self._veto = veto or VETO
        self._child: subprocess.Popen[bytes] | None = None
        self._answers: queue.Queue[_Answer] = queue.Queue()
        self._unknown_token = ""
        self._known: dict[str, bool] = {}
        self._start()

    def unknown_words(self, vocabulary: Vocabulary) -> tuple[str, ...]:
        """Words of cues, address and decoys that the model's lexicon lacks, sorted.

        Pronunciations cannot be added to a Vosk model.
        """
        said = [vocabulary.address, *vocabulary.decoys]
        said += [phrase for cue in vocabulary.cues for phrase in cue.phrases]
        words = sorted({word for phrase in said for word in phrase.split()})
        asked = [word for word in words if word not in self._known]
        if asked:
            missing = set(self._ask({"words": asked})["missing"])
            self._known.update({word: word not in missing for word in asked})
        return tuple(word for word in words if not self._known[word])

    def hear(self, samples: Samples, started: float, vocabulary: Vocabulary) -> Hearing:
        """Judge one utterance.

        A crash of the engine is a refusal that says so, and the engine is started again. Raises
        ValueError when a cue has a word the model lacks; decoys with such words are left out.
        """
        times = (started, started + len(samples) / RATE)
        try:
            grammar = grammar_of(vocabulary)
            unknown = set(self.unknown_words(vocabulary))
            for text, path in grammar.paths:
                if path.cue is not None and (lacking := unknown & set(text.split())):
                    raise ValueError(
                        f"cue {path.phrase!r}: the model lacks {', '.join(sorted(lacking))};"
                        " reword the cue or use another model"
                    )
            phrases = [text for text, _ in grammar.paths if not unknown & set(text.split())]
            if self._unknown_token:
                phrases.append(self._unknown_token)
            sound = np.ascontiguousarray(with_floor(samples)).tobytes()
            answer = self._ask({"phrases": phrases}, sound)
        except ModelError as fault:
            return nothing(times, "", str(fault))
        text, words = str(answer["text"]), answer["words"]
        found = grammar.find(text)
        if found is None:
            return nothing(times, text, "no cue")
        weakest = min((float(confidence) for _, confidence in words), default=0.0)
        return judged(found, weakest, self._accepts, vocabulary, times)

    def close(self) -> None:
        """End the child process."""
        child, self._child = self._child, None
        if child is not None:
            with contextlib.suppress(OSError):
                if child.stdin:
                    child.stdin.close()
            child.kill()
            child.wait()

    def _accepts(self, confidence: float, tier: Tier) -> bool:
        return confidence >= self._veto[tier]

    def _start(self) -> None:
        self._answers = queue.Queue()
        self._child = subprocess.Popen(
            [sys.executable, "-m", "sidecue.hearing.vosk_child", str(self._model)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        threading.Thread(
            target=_listen, args=(self._child, self._answers), daemon=True, name="vosk-answers"
        ).start()
        ready = self._await(LOAD_WITHIN, f"model {self._model} does not load")
        self._unknown_token = str(ready["unknown_token"])

    def _ask(self, header: dict[str, Any], samples: bytes = b"") -> dict[str, Any]:
        """Ask the child. Raises ModelError when it crashed or does not answer."""
        if self._child is None:
            self._start()
        child = self._child
        assert child is not None
        assert child.stdin is not None
        with contextlib.suppress(BrokenPipeError):  # a dead child is seen when it fails to answer
            send(child.stdin, header, samples)
        return self._await(ANSWER_WITHIN, "the Vosk engine failed and is started again")

    def _await(self, within: float, failing: str) -> dict[str, Any]:
        try:
            answer = self._answers.get(timeout=within)
        except queue.Empty:
            self.close()
            raise ModelError(f"{failing}: no answer within {within:.0f} s") from None
        if answer is None:
            code = self._child.wait() if self._child else 0
            self.close()
            raise ModelError(f"{failing}: it ended with code {code}")
        return answer[0]


def _listen(child: subprocess.Popen[bytes], answers: queue.Queue[_Answer]) -> None:
    """Pass on what the child says; None once it is gone."""
    assert child.stdout is not None
    with contextlib.suppress(EOFError, ValueError, OSError):
        while True:
            answers.put(receive(child.stdout))
    answers.put(None)
