"""The comparison's picture: each client's sittings as points, with the client's mean."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.change.compare import MEASURES, Comparison
from aftersit.pages.compare_words import signed

WIDTH, LEFT, RIGHT, ROW, TOP = 680.0, 120.0, 16.0, 22.0, 10.0
MOST_CLIENTS = 30


@dataclass(frozen=True)
class Line:
    """One client: where its points, its mean and its label lie."""

    name: str
    y: float
    points: tuple[float, ...]
    mean: float


@dataclass(frozen=True)
class Drawing:
    """All that the template draws, in its own units, and the same in words."""

    lines: tuple[Line, ...]
    ticks: tuple[tuple[float, str], ...]
    zero: float
    band: tuple[float, float] | None
    """From where to where the interval of the mean over clients goes."""
    height: float
    description: str
    left_out: int
    width: float = WIDTH
    left: float = LEFT
    right: float = WIDTH - RIGHT


def drawing(found: Comparison) -> Drawing | None:
    """Lay out the picture; None where no sitting is known on both sides."""
    by_client = {
        client: [v for r in found.of(client) if (v := r.change(MEASURES[0])) is not None]
        for client in found.clients
    }
    known = {client: values for client, values in by_client.items() if values}
    if not known:
        return None
    ordered = sorted(known, key=lambda c: (-abs(float(np.mean(known[c]))), c))
    shown = sorted(ordered[:MOST_CLIENTS], key=lambda c: (float(np.mean(known[c])), c))
    change = found.difference(MEASURES[0])
    values = [v for client in shown for v in known[client]]
    limits = [v for v in (change.low, change.high) if v is not None]
    scale = _Scale([*values, *limits])
    lines = [
        Line(c, TOP + (n + 0.5) * ROW, tuple(map(scale.x, known[c])), scale.x(np.mean(known[c])))
        for n, c in enumerate(shown)
    ]
    return Drawing(
        lines=tuple(lines),
        ticks=tuple((scale.x(t), f"{t:g}".replace("-", "\N{MINUS SIGN}")) for t in scale.ticks),
        zero=scale.x(0),
        band=(scale.x(change.low), scale.x(change.high)) if limits else None,
        height=TOP + len(lines) * ROW + 40,
        description=_in_words({c: known[c] for c in shown}),
        left_out=len(known) - len(shown),
    )


class _Scale:
    """From points of time in target to the picture's own units, zero always in it."""

    def __init__(self, values: Sequence[float]):
        low, high = min(0.0, *values), max(0.0, *values)
        step = next(s for s in (0.5, 1, 2, 5, 10, 20, 25, 50) if (high - low) / s <= 7 or s == 50)
        self.low = step * np.floor(low / step - 1e-9)
        self.high = step * np.ceil(high / step + 1e-9)
        self.ticks = np.arange(self.low, self.high + step / 2, step)

    def x(self, value: float) -> float:
        share = (float(value) - self.low) / (self.high - self.low)
        return round(LEFT + share * (WIDTH - RIGHT - LEFT), 2)


def _in_words(known: dict[str, list[float]]) -> str:
    parts = [
        f"{client}: mean {signed(float(np.mean(values)))}, from {signed(min(values))} "
        f"to {signed(max(values))}, {len(values)} sitting{'s' if len(values) > 1 else ''}"
        for client, values in known.items()
    ]
    return "Change in time in target, B less A, in points. " + "; ".join(parts) + "."
