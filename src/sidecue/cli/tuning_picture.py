"""The trade-off as a picture: phrases missed against talk taken for a cue, at each threshold."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from html import escape

from sidecue.hearing.tuning import Share, Stretch, Thresholds, Trial, trade_off
from sidecue.procedure.plan import Tier

ROWS = tuple(round(0.1 * at, 1) for at in range(1, 10))
WIDE = 24  # characters of a whole bar
_FINE = tuple(at / 100 for at in range(1, 100))

_HALO = 'stroke="white" stroke-width="4" paint-order="stroke"'

# Drawing, in pixels.
_LEFT, _TOP, _ACROSS, _DOWN, _ALL_ACROSS, _ALL_DOWN = 70, 60, 560, 300, 680, 470


def terminal_lines(
    trials: Sequence[Trial], talk: Sequence[Stretch], thresholds: Thresholds
) -> Iterable[str]:
    """Yield the picture in plain characters, one row a threshold, those that were set marked."""
    marks: dict[float, list[str]] = {}
    for tier in Tier:
        marks.setdefault(thresholds[tier], []).append(tier.value)
    yield f"{'phrases missed':>{WIDE + 6}}  threshold  talk taken for a cue"
    for point in trade_off(trials, talk, sorted({*ROWS, *marks})):
        mark = f"  <- {', '.join(marks[point.limit])}" if point.limit in marks else ""
        left, right = _bar(point.missed), _bar(point.taken)
        row = f"{left:>{WIDE}} {_percent(point.missed)}  {point.limit:^9.3g}  "
        yield f"{row}{_percent(point.taken)} {right}{mark}".rstrip()


def _bar(share: Share) -> str:
    return "#" * (max(1, round(WIDE * share.part)) if share.count else 0)


def _percent(share: Share) -> str:
    return f"{100 * share.part:3.0f} %"


def drawing(
    trials: Sequence[Trial],
    talk: Sequence[Stretch],
    shipped: Thresholds,
    thresholds: Thresholds,
    title: str,
) -> str:
    """Return the picture as SVG: both curves with their 95 per cent bands, and the thresholds."""
    points = trade_off(trials, talk, _FINE)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_ALL_ACROSS} {_ALL_DOWN}" '
        'font-family="sans-serif" font-size="14" role="img">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{_ALL_ACROSS}" height="{_ALL_DOWN}" fill="white"/>',
        f'<text x="{_LEFT}" y="28" font-size="16">{escape(title)}</text>',
        *_axes(),
        *_curve([(each.limit, each.missed) for each in points], "#1f4e9c", ""),
        *_curve([(each.limit, each.taken) for each in points], "#b3261e", "7 4"),
        *_limits(shipped, thresholds),
        *_legend(len(trials), len(talk)),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _x(limit: float) -> float:
    return round(_LEFT + _ACROSS * limit, 1)


def _y(part: float) -> float:
    return round(_TOP + _DOWN * (1 - part), 1)


def _axes() -> Iterable[str]:
    for at in range(0, 101, 20):
        y = _y(at / 100)
        yield f'<line x1="{_LEFT}" x2="{_LEFT + _ACROSS}" y1="{y}" y2="{y}" stroke="#ddd"/>'
        yield f'<text x="{_LEFT - 8}" y="{y + 5}" text-anchor="end">{at} %</text>'
        x, bottom = _x(at / 100), _TOP + _DOWN + 20
        yield f'<text x="{x}" y="{bottom}" text-anchor="middle">{at / 100:g}</text>'
    middle = _LEFT + _ACROSS / 2
    yield f'<text x="{middle}" y="{_TOP + _DOWN + 42}" text-anchor="middle">threshold</text>'


def _curve(shares: Sequence[tuple[float, Share]], colour: str, dashes: str) -> Iterable[str]:
    highs = [f"{_x(limit)},{_y(share.interval[1])}" for limit, share in shares]
    lows = [f"{_x(limit)},{_y(share.interval[0])}" for limit, share in shares]
    line = " ".join(f"{_x(limit)},{_y(share.part)}" for limit, share in shares)
    band = " ".join((*highs, *reversed(lows)))
    yield f'<polygon points="{band}" fill="{colour}" fill-opacity="0.12"/>'
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    yield f'<polyline points="{line}" fill="none" stroke="{colour}" stroke-width="2"{dashed}/>'


def _limits(shipped: Thresholds, thresholds: Mapping[Tier, float]) -> Iterable[str]:
    """Each tier's threshold as an upright, its name above; where it was shipped, a tick below."""
    by_limit: dict[float, list[str]] = {}
    for tier in Tier:
        by_limit.setdefault(thresholds[tier], []).append(tier.value)
    for row, (limit, tiers) in enumerate(sorted(by_limit.items())):
        x, y = _x(limit), _TOP + 14 + 17 * row
        yield f'<line x1="{x}" x2="{x}" y1="{_TOP}" y2="{_TOP + _DOWN}" stroke="#444"/>'
        yield f'<text x="{x + 4}" y="{y}" fill="#222" {_HALO}>{", ".join(tiers)} {limit:g}</text>'
    for limit in sorted({*shipped.values()}):
        x, y = _x(limit), _TOP + _DOWN
        yield f'<path d="M{x} {y} l-4 7 h8 z" fill="#777"/>'


def _legend(trials: int, talk: int) -> Iterable[str]:
    rows = (
        ("#1f4e9c", "", f"phrases missed, of {trials}"),
        ("#b3261e", "7 4", f"stretches of talk taken for a cue, of {talk}"),
    )
    for row, (colour, dashes, what) in enumerate(rows):
        y = _TOP + _DOWN + 66 + 20 * row
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        yield (
            f'<line x1="{_LEFT}" x2="{_LEFT + 40}" y1="{y - 5}" y2="{y - 5}" stroke="{colour}" '
            f'stroke-width="2"{dashed}/>'
        )
        yield f'<text x="{_LEFT + 50}" y="{y}">{what} (band: 95 % interval)</text>'
    y = _TOP + _DOWN + 66 + 38
    yield f'<text x="{_LEFT + 50}" y="{y}" fill="#777">triangles: the shipped thresholds</text>'
