"""The process that holds a Vosk model, so that a crash in its C++ takes only this process down.

Talks in length-prefixed messages on stdin and stdout: a JSON header, then raw samples. One
recogniser is made per utterance: Vosk aborts when a phrase list changes inside an open one, and
long-lived recognisers creep in memory.
"""

from __future__ import annotations

import json
import os
import struct
import sys
from typing import IO, Any

UNKNOWN_TOKENS = ("[unk]", "<unk>", "<UNK>")


def send(stream: IO[bytes], header: dict[str, Any], samples: bytes = b"") -> None:
    """Write one message."""
    body = json.dumps(header).encode()
    stream.write(struct.pack("<II", len(body), len(samples)) + body + samples)
    stream.flush()


def receive(stream: IO[bytes]) -> tuple[dict[str, Any], bytes]:
    """Read one message. Raises EOFError when the other side is gone."""
    sizes = stream.read(8)
    if len(sizes) < 8:
        raise EOFError
    body_size, sample_size = struct.unpack("<II", sizes)
    body, samples = stream.read(body_size), stream.read(sample_size)
    if len(body) < body_size or len(samples) < sample_size:
        raise EOFError
    header: dict[str, Any] = json.loads(body)
    return header, samples


def main() -> None:
    """Serve one model: argv[1] is its folder."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what the library prints must not get between our messages
    import vosk

    vosk.SetLogLevel(-1)
    model = vosk.Model(model_path=sys.argv[1])
    unknown = [token for token in UNKNOWN_TOKENS if model.vosk_model_find_word(token) >= 0]
    send(answers, {"ready": True, "unknown_token": unknown[0] if unknown else ""})
    while True:
        try:
            header, samples = receive(sys.stdin.buffer)
        except EOFError:
            return
        if "words" in header:
            missing = [word for word in header["words"] if model.vosk_model_find_word(word) < 0]
            send(answers, {"missing": missing})
            continue
        phrases = [str(phrase) for phrase in header["phrases"] if str(phrase).strip()]
        if not phrases:
            send(answers, {"text": "", "words": []})
            continue
        recogniser = vosk.KaldiRecognizer(model, 16000, json.dumps(phrases, ensure_ascii=False))
        recogniser.SetWords(True)
        recogniser.AcceptWaveform(samples)
        result = json.loads(recogniser.FinalResult())
        words = [[word["word"], word["conf"]] for word in result.get("result", [])]
        send(answers, {"text": result.get("text", ""), "words": words})


if __name__ == "__main__":
    main()
