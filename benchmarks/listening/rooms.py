"""The corpus proper: each piece is one talker in one condition, heard by the product and beside it
by the stock decoder and, for a sample, by a large recogniser with fuzzy matching."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Any

import numpy as np

from benchmarks.listening import whisper
from benchmarks.listening.echo import DISTANCES, Echo, can_echo
from benchmarks.listening.moments import OTHER_KINDS, Said, draw
from benchmarks.listening.stock import StockDecoder
from benchmarks.listening.streams import (
    NOISES,
    QUIET,
    QUIET_SNR,
    SNRS,
    TALKERS,
    Condition,
    Slot,
    Stream,
    in_condition,
    spoken,
)
from benchmarks.listening.through_ears import Noticed, listen
from benchmarks.listening.voices import accent_of
from sidecue.conductor.assembly import recogniser_of
from sidecue.hearing.ears import finder_of
from sidecue.hearing.endpoint import Endpointer
from sidecue.hearing.port import Recogniser

Row = dict[str, Any]
GRID = (*((noise, snr) for noise in NOISES for snr in SNRS), (QUIET, QUIET_SNR))
CUES, OTHERS = 5, 3  # utterances of one piece
WHISPERED = 4  # one utterance in so many
SPARED = 0.25  # seconds of fading last sound that noise may hide
_STRIDE = 11  # coprime to the grid: every beginning of a round is a fair sample of it


def condition(number: int, seed: int) -> Condition:
    """The condition of a piece. A round goes once through the grid; the talkers take turns, so
    that in twelve rounds each speaks in every cell. A third of the pieces have an echo."""
    turn, at = divmod(number, len(GRID))
    cell = at * _STRIDE % len(GRID)
    noise, snr = GRID[cell]
    talker = TALKERS[(cell + 5 * turn + cell // len(TALKERS)) % len(TALKERS)]
    echoes = can_echo() and (cell + turn) % 3 == 0
    echo = Echo(DISTANCES[(cell // 3 + turn) % 3], 1000 * seed + number) if echoes else None
    return Condition(talker, noise, snr, echo)


def rows(number: int, seed: int) -> Iterator[Row]:
    """Yield a row for each utterance of a piece, and one for the piece."""
    rng = np.random.default_rng([seed, 1, number])
    where = condition(number, seed)
    others = [OTHER_KINDS[(OTHERS * number + k) % len(OTHER_KINDS)] for k in range(OTHERS)]
    kinds = ["cue"] * CUES + others
    said = [draw(kinds[at], rng) for at in rng.permutation(len(kinds))]
    stream = in_condition([(each, spoken(each.text, where.talker)) for each in said], where, rng)
    yield from heard_rows(stream, where, "rooms", number)


def heard_rows(stream: Stream, where: Condition, part: str, number: int) -> Iterator[Row]:
    """Yield what the product makes of a stream, beside the two others."""
    heard = listen(
        recogniser(), lambda at: stream.slot_at(at).said.moment.vocabulary, stream.blocks()
    )
    owners = {id(noticed): owner(stream, noticed) for noticed in heard.noticed}
    found = ends_found(stream)
    for at, slot in enumerate(stream.slots):
        mine = [noticed.row() for noticed in heard.noticed if owners[id(noticed)] is slot]
        row = {
            "part": part,
            "piece": number,
            **_said(slot.said),
            "talker": where.talker.name,
            "accent": accent_of(where.talker),
            "noise": where.noise,
            "snr": where.snr,
            "echo": where.echo.name if where.echo else "none",
            "begins": round(slot.begins, 3),
            "ends": round(slot.ends, 3),
            "heard": mine,
            **found[at],
        }
        words = slot.said.moment.vocabulary
        if part == "rooms":
            row["stock"] = _stock().hear(stream.cut(slot), words)
            if (8 * number + at) % WHISPERED == 0 and not whisper.missing():
                row["whisper"] = _whisper().hear(stream.cut(slot), words)
        yield row
    stray = [noticed.row() for noticed in heard.noticed if owners[id(noticed)] is None]
    yield {
        "part": f"{part}: piece",
        "noise": where.noise,
        "snr": where.snr,
        "seconds": round(heard.seconds, 2),
        "processor": round(heard.processor, 3),
        "stray": [row for row in stray if row["cue"] is not None],
    }


def _said(said: Said) -> Row:
    words = said.moment.vocabulary
    right = [cue.phrases for cue in words.cues if cue.id == said.right]
    return {
        "kind": said.kind,
        "said": said.text,
        "right": said.right,
        "phrases": list(right[0]) if right else [],
        "tier": said.tier,
        "visit": said.moment.visit,
        "step": said.moment.step,
        "mode": "speaking" if words.stop_only else "bare" if words.bare else "addressed",
    }


def owner(stream: Stream, noticed: Noticed) -> Slot | None:
    """The utterance a hearing overlaps most; None when it lies in the noise between."""
    shared = [
        (min(slot.ends, noticed.hearing.ended) - max(slot.begins, noticed.hearing.started), slot)
        for slot in stream.slots
    ]
    most, slot = max(shared, key=lambda pair: pair[0])
    return slot if most > 0 else None


def ends_found(stream: Stream) -> list[Row]:
    """When the endpointer offered each utterance whole, after its true end: first as one that may
    have ended, then as one that has. Seconds; None when not before the next one began."""
    endpointer = Endpointer(None, finder_of(recogniser()), stream.address)
    offers: list[tuple[float, float, float, bool]] = []  # noticed, started, ended, final
    for block in stream.blocks():
        now = block.at + len(block.samples) / 16_000
        offers += [(now, u.started, u.ended, u.final) for u in endpointer.feed(block)]
    rows = []
    for at, slot in enumerate(stream.slots):
        later = stream.slots[at + 1].begins if at + 1 < len(stream.slots) else float("inf")
        whole = [
            (noticed - slot.ends, final)
            for noticed, started, ended, final in offers
            if started < slot.ends and slot.ends - SPARED <= ended and noticed < later
        ]
        rows.append(
            {
                "end offered": round(min((lag for lag, _ in whole), default=-1.0), 3),
                "end final": round(min((lag for lag, final in whole if final), default=-1.0), 3),
            }
        )
    return [{k: None if v == -1.0 else v for k, v in row.items()} for row in rows]


@cache
def recogniser() -> Recogniser:
    """The product's recogniser, one for each process."""
    return recogniser_of("auto", None)


@cache
def _stock() -> StockDecoder:
    return StockDecoder()


@cache
def _whisper() -> whisper.WhisperMatcher:
    return whisper.WhisperMatcher()
