"""The edges measured: `python -m benchmarks.edges answering|own-voice|replug|endurance`.

Each leaves its figures in `benchmarks/edges/results/`. All but own-voice and endurance start a
sound server of their own (PulseAudio) and play nothing aloud.
"""

from __future__ import annotations

import argparse


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.edges", description=__doc__)
    kinds = parser.add_subparsers(dest="kind", required=True)
    answering = kinds.add_parser("answering", help="from a decision to the first sample")
    answering.add_argument("--count", type=int, default=30)
    own_voice = kinds.add_parser("own-voice", help="our own prompts in our own microphone")
    own_voice.add_argument("--every", type=int, default=1, help="only every so-manyth prompt")
    own_voice.add_argument("--seed", type=int, default=1)
    replug = kinds.add_parser("replug", help="devices that go away and come back")
    replug.add_argument("--count", type=int, default=100)
    endurance = kinds.add_parser("endurance", help="processor, memory, drift")
    endurance.add_argument("--hours", type=float, default=4.0, help="of sound, as fast as it goes")
    endurance.add_argument("--live", type=float, default=5.0, help="minutes with real devices")
    endurance.add_argument("--within", type=float, default=60.0, help="minutes for the hours")
    asked = parser.parse_args()
    # Each bench loads what it needs: the endurance bench weighs its own process.
    if asked.kind == "answering":
        from benchmarks.edges.answering import main as run

        run(asked.count)
    elif asked.kind == "own-voice":
        from benchmarks.edges.own_voice import main as listen

        listen(asked.every, asked.seed)
    elif asked.kind == "replug":
        from benchmarks.edges.replug import main as pull

        pull(asked.count)
    else:
        from benchmarks.edges.endurance import main as endure

        endure(asked.hours, asked.live, 60.0 * asked.within)


if __name__ == "__main__":
    main()
