"""Spans of time, [start, stop) in seconds, and gates over samples."""

import numpy as np

Span = tuple[float, float]


def alternating(
    rng: np.random.Generator, within: Span, on_s: float, off_s: float, least_s: float = 1.5
) -> list[Span]:
    """Spans whose lengths and distances scatter (gamma, shape 4) round the given means.

    Parameters
    ----------
    within : tuple of float
        The time to fill; the first and last `least_s` stay free.
    on_s, off_s : float
        Mean length of a span, and of the time between two.
    least_s : float
        No span and no gap is shorter.
    """
    spans, at = [], within[0]
    while True:
        start = at + max(least_s, rng.gamma(4, off_s / 4))
        stop = start + max(least_s, rng.gamma(4, on_s / 4))
        if stop > within[1] - least_s:
            return spans
        spans.append((round(start, 3), round(stop, 3)))
        at = stop


def complement(spans: list[Span], within: Span) -> list[Span]:
    """What of `within` the (ordered, disjoint) spans leave."""
    edges = [within[0], *(edge for span in spans for edge in span), within[1]]
    return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b > a]


def intersection(one: list[Span], two: list[Span]) -> list[Span]:
    """Where spans of both lists hold."""
    both = [(max(a, c), min(b, d)) for a, b in one for c, d in two]
    return sorted((a, b) for a, b in both if b > a)


def gate(spans: list[Span], n_samples: int, rate_hz: float, ramp_s: float = 0.2) -> np.ndarray:
    """1 inside spans and 0 outside, with straight ramps inside the edges.

    Ramps are shortened where a span is shorter than two of them.
    """
    if not spans:
        return np.zeros(n_samples)
    knots, values = [], []
    for start, stop in spans:
        ramp = min(ramp_s, (stop - start) / 3)
        knots += [start, start + ramp, stop - ramp, stop]
        values += [0, 1, 1, 0]
    return np.interp(np.arange(n_samples) / rate_hz, knots, values)


def levels(steps: list[tuple[Span, float]], n_samples: int, rate_hz: float) -> np.ndarray:
    """A value for each span, 0 where none is given."""
    out = np.zeros(n_samples)
    for (start, stop), value in steps:
        out[round(start * rate_hz) : round(stop * rate_hz)] = value
    return out
