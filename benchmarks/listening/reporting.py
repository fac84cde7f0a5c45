"""The one-page report of a run, in Markdown."""

from __future__ import annotations

from typing import Any

from benchmarks.listening.levels import DEFINITION

CAVEAT = (
    "**Synthetic voices flatter.** Every voice here is flite's or eSpeak NG's; no person has"
    " spoken. Expect less from people. Held out of all fitting: two flite voices and four eSpeak NG"
    " accents (an early run on two of the accents and the flite voices was looked at while features"
    " were chosen; West Midlands and Caribbean were not). The cue phrases themselves are those of"
    " the shipped visits, which training says too, in other voices."
)
METHOD = (
    "Utterances lie in a stream of one room's noise and go through the product's own ears,"
    " endpointing included, with the vocabularies that the session machine gives at each moment of"
    " the twelve shipped cases. The stock decoder and tiny.en are *given* the true boundaries,"
    " which favours them. tiny.en hears one utterance in four; the phrase most alike is taken"
    " from a likeness of 80 of 100, which nothing was tuned on."
)


def page(found: dict[str, Any]) -> str:
    """The whole report."""
    run = found["run"]
    lines = ["# Listening bench", ""]
    lines += [
        f"{run['date']}, seed {run['seed']}, commit {run['commit']}, ears {run['ears']};"
        f" {run['machine']}. {found['utterances']} utterances.",
        "",
        CAVEAT,
        "",
        f"{METHOD} {DEFINITION}.",
        *[f"Left out: {reason}." for reason in run["left out"]],
        "",
        "## Against the aims",
        "",
        "| figure | aim | measured (95 % interval) | of |",
        "|---|---|---|---|",
    ]
    lines += [
        f"| {row['figure']} | {row['aim']} | {_cell(row['got'])} | {row['got']['of']} |"
        for row in found["targets"]
    ]
    lines += _hours(found) + _table("SNR, dB (40: no noise but a faint room)", found, "by SNR")
    lines += _table("noise", found, "by noise") + _table("tier", found, "by tier")
    lines += _table("accent", found, "by accent") + _table("echo", found, "by echo")
    lines += _losses(found) + _outside(found) + _beside(found) + _curves(found) + _times(found)
    lines += ["![by level](by-snr.png) ![by noise](by-noise.png) ![trade-off](trade-off.png)", ""]
    return "\n".join(lines)


def _cell(part: dict[str, float] | None) -> str:
    return "" if part is None else f"{part['percent']:.1f} ({part['low']:.1f}-{part['high']:.1f})"


def _table(title: str, found: dict[str, Any], key: str) -> list[str]:
    parts = {name: part for name, part in found["product"][key].items() if "right" in part}
    lines = ["", f"| {title} | cues | right % | wrong % | missed % | stock: right / wrong % |"]
    lines += ["|---|---|---|---|---|---|"]
    for name, part in parts.items():
        plain = found["stock decoder"][key][name]
        cells = [_cell(part[column]) for column in ("right", "wrong", "missed")]
        beside = f"{plain['right']['percent']:.1f} / {plain['wrong']['percent']:.1f}"
        lines.append(f"| {name} | {part['right']['of']} | {' | '.join(cells)} | {beside} |")
    return lines


def _losses(found: dict[str, Any]) -> list[str]:
    levels = found["missed, and why"]
    reasons = list(dict.fromkeys(reason for part in levels.values() for reason in part))
    if not reasons:
        return []
    lines = ["", f"| cues missed, and where they got lost | {' | '.join(levels)} dB |"]
    lines += [f"|---|{'---|' * len(levels)}"]
    for reason in reasons:
        counts = [str(part.get(reason, 0)) for part in levels.values()]
        lines.append(f"| {reason} | {' | '.join(counts)} |")
    return lines


def _outside(found: dict[str, Any]) -> list[str]:
    lines = [
        "",
        "| said, and no cue | of | taken for one % | stock: taken % |",
        "|---|---|---|---|",
    ]
    for name, part in found["product"]["by kind"].items():
        if "taken" in part:
            plain = found["stock decoder"]["by kind"][name]["taken"]["percent"]
            lines.append(
                f"| {name} | {part['taken']['of']} | {_cell(part['taken'])} | {plain:.1f} |"
            )
    fragments = found["fragments"]
    if fragments["acted on before their end"]["of"]:
        lines.append(
            f"| unfinished cue | {fragments['unfinished cues acted on']['of']} |"
            f" {_cell(fragments['unfinished cues acted on'])} | |"
        )
    return lines


def _hours(found: dict[str, Any]) -> list[str]:
    if not found["false actions"]:
        return []
    lines = ["", "| open microphone | hours heard | false actions | per hour | at most (95 %) |"]
    lines += ["|---|---|---|---|---|"]
    lines += [
        f"| {kind} | {part['hours']:.1f} | {part['count']} {_counts(part['by tier'])} |"
        f" {part['per hour']:.2f} | {part['at most']:.2f} |"
        for kind, part in found["false actions"].items()
    ]
    return [*lines, "", "Aims: 0.1 an hour in babble, none from non-speech."]


def _counts(counts: dict[str, int]) -> str:
    return f"({', '.join(f'{count} {name}' for name, count in counts.items())})" if counts else ""


def _beside(found: dict[str, Any]) -> list[str]:
    if "same sample, whisper" not in found:
        return []
    lines = ["", "| the same sample | cues | right % | wrong % | taken of what is no cue % |"]
    lines += ["|---|---|---|---|---|"]
    for key, name in (
        ("same sample, product", "sidecue"),
        ("same sample, stock decoder", "stock decoder"),
        ("same sample, whisper", "tiny.en, fuzzy"),
    ):
        whole = found[key]["all"]
        cells = [_cell(whole.get(column)) for column in ("right", "wrong", "taken")]
        lines.append(f"| {name} | {whole['right']['of']} | {' | '.join(cells)} |")
    return lines


def _curves(found: dict[str, Any]) -> list[str]:
    missed = "missed at 1 % taken, %"
    told = [
        f"{name}: equal error rate {found[key]['equal error rate, %']:.1f} %,"
        f" {found[key][missed]:.1f} % missed where 1 % of what is no cue is taken"
        for key, name in (
            ("trade-off", "All levels"),
            ("trade-off at 10 dB or more", "10 dB or more"),
            ("trade-off, whisper", "tiny.en on its sample"),
        )
        if key in found
    ]
    return ["", "; ".join(told) + "."]


def _times(found: dict[str, Any]) -> list[str]:
    late, ends, parts = found["latency"], found["endpointing"], found["fragments"]
    lines = ["", "| seconds after the end of speech | p50 | p95 |", "|---|---|---|"]
    for name, key in (
        ("right cue decided, audio clock", "audio clock"),
        ("decided, with the decoder's processor time", "with decoding"),
    ):
        if late[key]["count"]:
            lines.append(f"| {name} | {late[key]['p50']:.2f} | {late[key]['p95']:.2f} |")
    for which, note in (("all", "all noises"), ("steady", "steady noises")):
        for snr in ("20.0", "10.0", "5.0", "0.0"):
            part = ends[which].get(snr)
            if part and part["first offered"]["count"]:
                first, lost = part["first offered"], part["not before the next utterance"]
                lines.append(
                    f"| end found at {float(snr):g} dB, {note}"
                    f" (not at all: {lost['percent']:.0f} %)"
                    f" | {first['p50']:.2f} | {first['p95']:.2f} |"
                )
    if "right" in parts["cues with a pause inside"]:
        paused, hasty = parts["cues with a pause inside"], parts["acted on before their end"]
        twice = found["product"]["all"]["acted twice"] + paused["acted twice"]
        lines += [
            "",
            f"Cues with a pause of 150-350 ms inside: right {_cell(paused['right'])} %, wrong"
            f" {_cell(paused['wrong'])} %, acted on before their end {hasty['count']} of"
            f" {hasty['of']}. Acted on twice: {twice}.",
        ]
        for kind, part in parts["numbers"].items():
            told = ", ".join(
                f"{name} {_cell(part[name])} %"
                for name in ("right", "wrong", "taken")
                if name in part
            )
            lines.append(f"{kind.capitalize()} (six/sixteen/sixty, teens/tens): {told}.")
    foot = found.get("footprint")
    lines += ["", f"Real-time factor over the corpus: {found.get('real-time factor')}."]
    if foot:
        lines[-1] += " The ears alone: " + ", ".join(f"{k} {v}" for k, v in foot.items()) + "."
    lines.append(
        f"Actions in the noise between utterances: {found['actions in the noise between']}."
    )
    return [*lines, ""]
