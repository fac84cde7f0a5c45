"""From the rows of a run to the figures of the report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from typing import Any

from benchmarks.listening.measures import (
    drift,
    equal_error,
    grouped,
    missed_at,
    per_hour,
    percentiles,
    share,
    trade_off,
)
from benchmarks.listening.open_microphone import KINDS

Row = dict[str, Any]
Taken = Callable[[Row], list[str]]
LOUD_ENOUGH = 10.0  # dB: the wrong-cue target is set from here up
OUTSIDE = 0.01  # share of what is no cue that may be taken


def ours(row: Row) -> list[str]:
    """The cues the product acted on in an utterance."""
    return [heard["cue"] for heard in row["heard"] if heard["cue"] is not None]


def stock(row: Row) -> list[str]:
    """What the plain decoder takes it for."""
    return [row["stock"]] if row.get("stock") else []


def whispered(row: Row) -> list[str]:
    """What the large recogniser with fuzzy matching takes it for."""
    found = row.get("whisper", {}).get("cue")
    return [found] if found else []


def tally(rows: Sequence[Row], taken: Taken) -> dict[str, Any]:
    """Right, wrong, missed and twice of spoken cues; taken for a cue of everything else."""
    spoken = [(row, taken(row)) for row in rows if row["right"] is not None]
    other = [taken(row) for row in rows if row["right"] is None]
    wrong = sum(any(cue != row["right"] for cue in cues) for row, cues in spoken)
    right = sum(bool(cues) and set(cues) == {row["right"]} for row, cues in spoken)
    found: dict[str, Any] = {}
    if spoken:
        found |= {
            "right": share(right, len(spoken)),
            "wrong": share(wrong, len(spoken)),
            "missed": share(len(spoken) - right - wrong, len(spoken)),
            "acted twice": sum(len(cues) > len(set(cues)) for _, cues in spoken),
        }
    if other:
        found["taken"] = share(sum(map(bool, other)), len(other))
    return found


def tables(rows: Sequence[Row], taken: Taken) -> dict[str, Any]:
    """`tally` of everything, and of each noise, level, tier, accent, echo, kind and mode."""

    def told(part: list[Row]) -> dict[str, Any]:
        return tally(part, taken)

    spoken = [row for row in rows if row["right"] is not None]
    cells = [{**row, "cell": f"{row['noise']} {row['snr']:g}"} for row in rows]
    return {
        "all": told(list(rows)),
        "by SNR": grouped(rows, "snr", told),
        "by noise": grouped(rows, "noise", told),
        "by noise and SNR": grouped(cells, "cell", told),
        "by tier": grouped(spoken, "tier", told),
        "by accent": grouped(rows, "accent", told),
        "by echo": grouped(rows, "echo", told),
        "by kind": grouped(rows, "kind", told),
        "by mode": grouped(rows, "mode", told),
    }


def score_of(row: Row) -> float:
    """How sure the product was of the right cue; of any cue, where nothing is right."""
    scores = [
        heard["score"]
        for heard in row["heard"]
        if heard["tier"] is not None
        and (
            row["right"] is None
            or row["right"] == heard["cue"]
            or heard["phrase"] in row["phrases"]
        )
    ]
    return max(scores, default=0.0)


def whisper_score(row: Row) -> float:
    """Likeness to the right cue's phrase; to any, where nothing is right."""
    found = row["whisper"]
    return float(found["score"]) if row["right"] in (None, found["nearest"]) else 0.0


def thinned(curve: list[list[float]], most: int = 100) -> list[list[float]]:
    """No more than about `most` points of a curve, its last one among them: for the picture."""
    return [*curve[: -1 : max(1, len(curve) // most)], *curve[-1:]]


def curve_of(rows: Sequence[Row], score: Callable[[Row], float]) -> dict[str, Any]:
    """A detection trade-off: cues against everything that is none."""
    right = [score(row) for row in rows if row["right"] is not None]
    wrong = [score(row) for row in rows if row["right"] is None]
    curve = trade_off(right, wrong)
    return {
        "cues": len(right),
        "others": len(wrong),
        "equal error rate, %": round(100 * equal_error(curve), 2),
        f"missed at {100 * OUTSIDE:g} % taken, %": round(100 * missed_at(curve, OUTSIDE), 2),
        "curve": thinned([[round(value, 4) for value in point] for point in curve]),
    }


def latency(rows: Sequence[Row]) -> dict[str, Any]:
    """Seconds from the true end of speech until a right cue is decided: the audio clock when it
    came, and the processor time of its block on top."""
    at: list[dict[str, Any]] = []
    for row in rows:
        for heard in row["heard"]:
            if heard["cue"] is not None and heard["cue"] == row["right"]:
                lag = heard["at"] - row["ends"]
                at.append({"snr": row["snr"], "lag": lag, "all": lag + heard["took"]})
                break
    return {
        "audio clock": percentiles(each["lag"] for each in at),
        "with decoding": percentiles(each["all"] for each in at),
        "decoding": percentiles(each["all"] - each["lag"] for each in at),
        "with decoding, by SNR": grouped(at, "snr", lambda p: percentiles(e["all"] for e in p)),
    }


def endpoints(rows: Sequence[Row]) -> dict[str, Any]:
    """When the end was found, by level: first offered, and final; and how often not in time."""

    def told(part: list[Row]) -> dict[str, Any]:
        offered = [row["end offered"] for row in part if row["end offered"] is not None]
        final = [row["end final"] for row in part if row["end final"] is not None]
        return {
            "first offered": percentiles(offered),
            "final": percentiles(final),
            "not before the next utterance": share(len(part) - len(offered), len(part)),
        }

    return {
        "all": grouped(rows, "snr", told),
        "steady": grouped(
            [row for row in rows if row["noise"] in ("pink", "dry-suction", "whine", "quiet")],
            "snr",
            told,
        ),
    }


def early(rows: Sequence[Row]) -> dict[str, Any]:
    """Actions before an utterance was over, and actions on unfinished cues."""
    paused = [row for row in rows if row["kind"].startswith("paused")]
    unfinished = [row for row in rows if row["kind"] == "unfinished"]
    hasty = sum(
        any(h["cue"] is not None and h["at"] < row["ends"] - 0.1 for h in row["heard"])
        for row in paused
    )
    return {
        "cues with a pause inside": tally(paused, ours),
        "by pause": grouped(paused, "kind", lambda part: tally(part, ours)),
        "acted on before their end": share(hasty, len(paused)),
        "unfinished cues acted on": share(sum(bool(ours(r)) for r in unfinished), len(unfinished)),
        "numbers": grouped(
            [row for row in rows if row["kind"].startswith("number")],
            "kind",
            lambda part: tally(part, ours),
        ),
    }


LONG = 1.2  # seconds beyond the utterance: noise or neighbours were taken in with it


def why_missed(row: Row) -> str:
    """Where a cue got lost."""
    if not row["heard"]:
        return "no utterance found, or swallowed by another"
    mine = [heard for heard in row["heard"] if heard["phrase"] in row["phrases"]]
    heard = (mine or row["heard"])[0]
    spoken = row["ends"] - row["begins"]
    if not mine and heard["ended"] - heard["started"] > spoken + LONG:
        return "cut too long: noise taken in with it"
    reason = heard["why"].partition(";")[0]
    if mine:
        return f"right phrase, {reason}"
    return "decoded as something else"


def losses(rows: Sequence[Row]) -> dict[str, Any]:
    """How many cues got lost where, at each level."""
    lost = [row for row in rows if row["right"] is not None and not ours(row)]
    return grouped(lost, "snr", lambda part: dict(Counter(map(why_missed, part)).most_common()))


def hours(rows: Sequence[Row]) -> dict[str, Any]:
    """False actions per hour of each kind of sound, with the upper 95 % bound."""
    found: dict[str, Any] = {}
    for kind in KINDS:
        part = [row for row in rows if row["part"] == kind]
        if not part:
            continue
        seconds = sum(row["seconds"] for row in part)
        acted = [heard for row in part for heard in row["acted"]]
        found[kind] = {
            **per_hour(len(acted), seconds / 3600),
            "by tier": dict(Counter(heard["tier"] for heard in acted)),
            "by sound": dict(Counter(heard["sound"] for heard in acted)),
            "cues": dict(Counter(heard["cue"] for heard in acted).most_common(8)),
            "judged": sum(row["judged"] for row in part),
            "real-time factor": round(sum(row["processor"] for row in part) / seconds, 3),
            "MB per hour, by process": grouped(
                part, "process", lambda p: drift((r["seconds"], r["resident after"]) for r in p)
            ),
        }
    return found


def targets(found: dict[str, Any]) -> list[dict[str, Any]]:
    """The aims, beside what was measured."""
    product, levels = found["product"], found["product"]["by SNR"]
    aims = [
        {
            "figure": f"right cue at {snr} dB, %",
            "aim": f">= {aim}",
            "got": levels[f"{snr}.0"]["right"],
        }
        for snr, aim in ((20, 99), (10, 97), (5, 92))
        if "right" in levels.get(f"{snr}.0", {})
    ]
    aims.append(
        {
            "figure": "wrong cue at 10 dB or more, %",
            "aim": "<= 0.2",
            "got": found["wrong, loud enough"],
        }
    )
    if "wrong" in levels.get("0.0", {}):
        aims.append(
            {"figure": "wrong cue at 0 dB, %", "aim": "<= 0.5", "got": levels["0.0"]["wrong"]}
        )
    kinds = product["by kind"]
    for name, parts in (("sentences", ("sentence",)), ("near-misses", ("near", "one-phone"))):
        got = [kinds[part]["taken"] for part in parts if part in kinds]
        if got:
            whole = share(sum(g["count"] for g in got), sum(g["of"] for g in got))
            aims.append({"figure": f"{name} taken for a cue, %", "aim": "<= 1", "got": whole})
    return aims


def figures(rows: Sequence[Row]) -> dict[str, Any]:
    """All figures of a run."""
    said = [row for row in rows if row["part"] == "rooms"]
    sampled = [row for row in said if "whisper" in row]
    whole = [row for row in rows if row["part"].endswith(": piece")]
    loud = [row for row in said if row["snr"] >= LOUD_ENOUGH and row["right"] is not None]
    found: dict[str, Any] = {
        "utterances": len(said),
        "product": tables(said, ours),
        "wrong, loud enough": tally(loud, ours).get("wrong", share(0, 0)),
        "actions in the noise between": sum(len(row["stray"]) for row in whole),
        "stock decoder": tables(said, stock),
        "missed, and why": losses(said),
        "trade-off": curve_of(said, score_of),
        "trade-off at 10 dB or more": curve_of([r for r in said if r["snr"] >= 10], score_of),
        "latency": latency(said),
        "endpointing": endpoints(said),
        "fragments": early([row for row in rows if row["part"] == "fragments"]),
        "false actions": hours(rows),
    }
    if sampled:
        found["same sample, product"] = tables(sampled, ours)
        found["same sample, stock decoder"] = tables(sampled, stock)
        found["same sample, whisper"] = tables(sampled, whispered)
        found["trade-off, whisper"] = curve_of(sampled, whisper_score)
        found["trade-off, same sample"] = curve_of(sampled, score_of)
    seconds = sum(row["seconds"] for row in whole)
    if seconds:
        found["real-time factor"] = round(sum(row["processor"] for row in whole) / seconds, 3)
    found["targets"] = targets(found)
    return found
