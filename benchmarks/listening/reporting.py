"""Pictures and a one-page report of a run."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

CAVEAT = (
    "Synthetic voices (flite, eSpeak NG) flatter or distort: no person has spoken here. SNR is"
    " active-speech RMS (10 ms frames within 16 dB of the mean power, in the spirit of ITU-T P.56)"
    " over noise RMS. The voices were never fitted on, but an earlier run on them was looked at"
    " while the features were chosen. Near-misses are hard by design: one phone apart,"
    " no decoy."
)


def write(found: dict[str, Any], folder: Path, machine: str) -> None:
    """Write report.md, by-snr.png and trade-off.png into `folder`."""
    (folder / "report.md").write_text(page(found, machine), "utf-8")
    try:
        import matplotlib as mpl
    except ImportError:
        return
    mpl.use("Agg")
    from matplotlib import pyplot

    levels = sorted(found["by SNR"], key=float, reverse=True)
    picture, axes = pyplot.subplots(figsize=(7, 4.5))
    for name, part in (("this recipe", found), ("stock decoder", found.get("stock decoder"))):
        if part:
            right = [part["by SNR"][level]["right"]["percent"] for level in levels]
            wrong = [part["by SNR"][level]["wrong"]["percent"] for level in levels]
            axes.plot(levels, right, marker="o", label=f"right cue, {name}")
            axes.plot(levels, wrong, marker="x", linestyle="--", label=f"wrong cue, {name}")
    axes.set(xlabel="SNR, dB (40: no noise)", ylabel="% of spoken cues", ylim=(-2, 102))
    axes.set_title("Held-out synthetic voices")
    axes.legend()
    axes.grid(alpha=0.3)
    picture.savefig(folder / "by-snr.png", dpi=110, bbox_inches="tight")
    pyplot.close(picture)
    _trade_off(found, folder, pyplot)


def _trade_off(found: dict[str, Any], folder: Path, pyplot: Any) -> None:
    good = np.array([score for score, right in found["curve"] if right])
    bad = np.array([score for score, right in found["curve"] if not right])
    if not len(good) or not len(bad):
        return
    limits = np.linspace(0, 1, 201)
    picture, axes = pyplot.subplots(figsize=(6, 4.5))
    axes.plot(
        [100 * float((bad >= limit).mean()) for limit in limits],
        [100 * float((good < limit).mean()) for limit in limits],
    )
    axes.set(xlabel="% of wrong decodes accepted", ylabel="% of right decodes refused")
    axes.set_title("Acceptance, held-out synthetic voices")
    axes.grid(alpha=0.3)
    picture.savefig(folder / "trade-off.png", dpi=110, bbox_inches="tight")
    pyplot.close(picture)


def page(found: dict[str, Any], machine: str) -> str:
    """The report in Markdown."""
    lines = ["# Listening bench", "", f"Machine: {machine}. {CAVEAT}", ""]
    for key in ("SNR", "noise", "kind"):
        lines += _table(key, found[f"by {key}"])
    lines += _table("voice", found["by talker"])
    if "stock decoder" in found:
        lines += ["## The same decoder as it comes, plain grammar", ""]
        lines += _table("SNR", found["stock decoder"]["by SNR"])
    acceptance = found["acceptance"]
    lines += [
        f"Acceptance over decoded cues: area under the curve {acceptance['area under the curve']},"
        f" equal error rate {100 * acceptance['equal error rate']:.1f} %.",
        "",
    ]
    key = "processor seconds a second of sound"
    if key in found:
        lines += [f"{key.capitalize()}: median {found[key]['median']}, p95 {found[key]['p95']}."]
    return "\n".join(lines) + "\n"


def _table(key: str, parts: dict[str, Any]) -> list[str]:
    def cell(part: dict[str, Any], name: str) -> str:
        share = part[name]
        return f"{share['percent']:.1f} ({share['low']:.1f}-{share['high']:.1f})"

    head = f"| {key} | cues | right % | wrong % | missed % | other | accepted % |"
    rows = [head, "|---|---|---|---|---|---|---|"]
    for name, part in parts.items():
        cells = [cell(part, column) if part["spoken"] else "" for column in ("right", "wrong")]
        cells.append(cell(part, "missed") if part["spoken"] else "")
        taken = cell(part, "accepted") if part["other"] else ""
        rows.append(
            f"| {name} | {part['spoken']} | {' | '.join(cells)} | {part['other']} | {taken} |"
        )
    return [*rows, ""]
