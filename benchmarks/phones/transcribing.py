"""What a person says in a recording, written down by the decoder of the small speech model.

For the corpus only: it is sure about people and lost with synthetic voices, in noise, and with the
words of the trade.
"""

from __future__ import annotations

import re

import numpy as np

from sidecue.hearing.encoder import Frames, model_file, session_of

START, STOP = 1, 2
MOST = 60  # tokens
_SPACE = "\u2581".encode()


def tokens(raw: bytes) -> list[bytes]:
    """The tokens of a `tokenizer.bin`: each with its length before it, in base 128 from 128 on."""
    found, at = [], 0
    while at < len(raw):
        length = raw[at]
        at += 1
        if length >= 128:
            length += 128 * (raw[at] - 1)
            at += 1
        found.append(raw[at : at + length])
        at += length
    return found


class Decoder:
    """Writes down frames of `Encoder`."""

    def __init__(self) -> None:
        """Raise ValueError where the wheel is missing."""
        encoder = model_file()
        if encoder is None:
            raise ValueError("the speech model is missing: pip install 'moonshine-voice<0.0.70'")
        self._session = session_of(encoder.with_name("decoder_model_merged.ort"))
        self._tokens = tokens(encoder.with_name("tokenizer.bin").read_bytes())
        self._past = {
            each.name: np.zeros((1, 8, 0, 36), np.float32)
            for each in self._session.get_inputs()
            if each.name.startswith("past")
        }

    def write(self, frames: Frames) -> tuple[str, float]:
        """Return the words, lower case without punctuation, and how sure: mean log probability of
        a token, 0 at most."""
        said, sure = [START], 0.0
        while len(said) <= MOST:
            logits = self._session.run(
                ["logits"],
                {
                    "encoder_attention_mask": np.ones((1, len(frames)), np.int64),
                    "input_ids": np.array([said], np.int64),
                    "encoder_hidden_states": frames[None],
                    "use_cache_branch": np.array([False]),
                    **self._past,
                },
            )[0][0, -1]
            best = int(logits.argmax())
            sure -= float(np.log(np.exp(logits - logits[best]).sum()))
            said.append(best)
            if best == STOP:
                break
        text = b"".join(self._tokens[each] for each in said[1:-1]).replace(_SPACE, b" ")
        words = re.sub(r"[^a-z' ]+", " ", text.decode("utf-8", "replace").lower())
        return " ".join(words.split()), sure / (len(said) - 1)
