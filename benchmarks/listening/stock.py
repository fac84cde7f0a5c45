"""The baseline: the same decoder as it comes, with a plain grammar of the same phrases."""

from __future__ import annotations

from pocketsphinx import Decoder

from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.port import Samples, Vocabulary


class StockDecoder:
    """PocketSphinx with its defaults and a JSGF grammar; whatever it decodes is taken."""

    def __init__(self) -> None:
        self._decoder = Decoder(lm=None, loglevel="FATAL")
        self._number = 0

    def hear(self, samples: Samples, vocabulary: Vocabulary) -> str | None:
        """The cue id of the decoded text, or None."""
        cues = {
            text: path.cue.id
            for text, path in grammar_of(vocabulary).paths
            if path.cue is not None and all(map(self._decoder.lookup_word, text.split()))
        }
        self._number += 1
        name = f"stock-{self._number}"
        rules = f"#JSGF V1.0; grammar g; public <cue> = {' | '.join(cues)};"
        self._decoder.add_jsgf_string(name, rules)
        self._decoder.activate_search(name)
        if self._number > 1:  # the one before is in use no more
            self._decoder.remove_search(f"stock-{self._number - 1}")
        self._decoder.start_utt()
        self._decoder.process_raw(samples.tobytes(), full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        return cues.get(found.hypstr.strip()) if found is not None else None
