"""Pictures of a run, as PNG. Needs matplotlib, which only the bench uses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from statistics import NormalDist
from typing import Any

from benchmarks.listening.streams import NOISES, SNRS

_SYSTEMS = (
    ("product", "sidecue", "black", "o"),
    ("stock decoder", "stock decoder, boundaries given", "tab:orange", "s"),
    ("same sample, whisper", "tiny.en + fuzzy, boundaries given (sample)", "tab:blue", "^"),
)


def draw(found: dict[str, Any], folder: Path) -> list[str]:
    """Write the pictures; return their names, none where matplotlib is missing."""
    try:
        import matplotlib as mpl
    except ImportError:
        return []
    mpl.use("Agg")
    from matplotlib import pyplot

    made = {
        "by-snr.png": _by_snr(found, pyplot),
        "by-noise.png": _by_noise(found, pyplot),
        "trade-off.png": _trade_off(found, pyplot),
    }
    for name, picture in made.items():
        picture.savefig(folder / name, dpi=100, bbox_inches="tight")
        pyplot.close(picture)
    return list(made)


def _by_snr(found: dict[str, Any], pyplot: Any) -> Any:
    picture, both = pyplot.subplots(1, 2, figsize=(10, 4))
    for axes, column in zip(both, ("right", "wrong"), strict=True):
        for key, name, colour, sign in _SYSTEMS:
            levels = {
                float(snr): part[column]
                for snr, part in found.get(key, {}).get("by SNR", {}).items()
                if column in part and float(snr) <= 20
            }
            if not levels:
                continue
            x = sorted(levels)
            y = [levels[snr]["percent"] for snr in x]
            spread = [
                [levels[snr]["percent"] - levels[snr]["low"] for snr in x],
                [levels[snr]["high"] - levels[snr]["percent"] for snr in x],
            ]
            axes.errorbar(x, y, yerr=spread, marker=sign, color=colour, label=name, capsize=3)
        axes.set(xlabel="SNR, dB", ylabel=f"{column} cue, %", ylim=(-2, 102))
        axes.grid(alpha=0.3)
    both[0].plot([20, 10, 5], [99, 97, 92], "_", color="tab:green", markersize=16)
    both[1].plot([], [], "_", color="tab:green", markersize=16, label="aim")
    both[1].legend(fontsize=8)  # where there is room
    picture.suptitle("Held-out synthetic voices (they flatter), mean of the noises, 95 % intervals")
    return picture


def _by_noise(found: dict[str, Any], pyplot: Any) -> Any:
    cells = found["product"]["by noise and SNR"]
    shown = [
        [
            cells.get(f"{noise} {snr:g}", {}).get("right", {}).get("percent", float("nan"))
            for snr in SNRS
        ]
        for noise in NOISES
    ]
    picture, axes = pyplot.subplots(figsize=(6.5, 4))
    image = axes.imshow(shown, vmin=0, vmax=100, cmap="gray", aspect="auto")
    axes.set_xticks(range(len(SNRS)), [f"{snr:g} dB" for snr in SNRS])
    axes.set_yticks(range(len(NOISES)), NOISES)
    for at, row in enumerate(shown):
        for place, value in enumerate(row):
            if not math.isnan(value):
                ink = "black" if value > 55 else "white"
                axes.text(place, at, f"{value:.0f}", ha="center", va="center", color=ink)
    axes.set_title("sidecue: right cue, %")
    picture.colorbar(image)
    return picture


def _trade_off(found: dict[str, Any], pyplot: Any) -> Any:
    """Both axes in normal deviates, as is usual for such curves."""
    picture, axes = pyplot.subplots(figsize=(5.5, 5.5))
    lines = (
        ("trade-off", "sidecue, all levels", "black", "-"),
        ("trade-off at 10 dB or more", "sidecue, 10 dB or more", "black", "--"),
        ("trade-off, whisper", "tiny.en + fuzzy (sample)", "tab:blue", "-"),
    )
    for key, name, colour, style in lines:
        if key in found:
            points = found[key]["curve"]
            axes.plot(
                _deviates([p[2] for p in points]),
                _deviates([p[1] for p in points]),
                style,
                color=colour,
                label=f"{name}: EER {found[key]['equal error rate, %']:.1f} %",
            )
    for key, name, colour, sign in (
        ("product", "sidecue as it acts", "black", "o"),
        ("stock decoder", "stock decoder", "tab:orange", "s"),
    ):
        whole = found[key]["all"]
        if "taken" in whole and "missed" in whole:
            lost = (100 - whole["right"]["percent"]) / 100
            axes.plot(
                _deviates([whole["taken"]["percent"] / 100]),
                _deviates([lost]),
                sign,
                color=colour,
                label=name,
            )
    ticks = (0.001, 0.01, 0.05, 0.2, 0.5, 0.8)
    places = _deviates(ticks)
    axes.set_xticks(places, [f"{100 * tick:g}" for tick in ticks])
    axes.set_yticks(places, [f"{100 * tick:g}" for tick in ticks])
    axes.set(xlabel="what is no cue, taken for one, %", ylabel="cues missed, %")
    axes.set(xlim=(places[0], places[-1]), ylim=(places[0], places[-1]))
    axes.grid(alpha=0.3)
    axes.legend(fontsize=8)
    axes.set_title("Detection trade-off, held-out synthetic voices")
    return picture


def _deviates(shares: Sequence[float]) -> list[float]:
    normal = NormalDist()
    return [normal.inv_cdf(min(0.9999, max(0.0001, share))) for share in shares]
