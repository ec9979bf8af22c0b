"""Bad spans and restarts: where nothing can be known, and from when on again.

The rule for the cleaned replay: a decision whose time until the next one
touches a bad span is `bad`. The filters start anew at the span's end, so that
none of its samples reaches a later value, and until they have settled and the
smoothing window is full the state is `unknown`. Neither is reward nor lapse;
a bout that meets a bad span ends there and is marked as cut.
"""

from collections.abc import Sequence

import numpy as np

from aftersit.quality import BadSpan

_SLACK_S = 1e-9


def merged(spans: Sequence[BadSpan]) -> list[tuple[float, float]]:
    """Limits in seconds of the union of spans, rising."""
    limits: list[tuple[float, float]] = []
    for start, stop in sorted((s.start_s, s.stop_s) for s in spans):
        if limits and start <= limits[-1][1]:
            limits[-1] = (limits[-1][0], max(stop, limits[-1][1]))
        else:
            limits.append((start, stop))
    return limits


def overlap_s(spans: Sequence[tuple[float, float]], start_s: float, stop_s: float) -> float:
    """Seconds of disjoint spans inside [start_s, stop_s)."""
    return sum(max(0.0, min(b, stop_s) - max(a, start_s)) for a, b in spans)


def touched(times_s: np.ndarray, stops_s: np.ndarray, spans: Sequence[tuple[float, float]]):
    """Which rows [times_s, stops_s) share time with a span; ndarray of bool."""
    touches = np.zeros(len(times_s), dtype=bool)
    for start, stop in spans:
        touches |= (times_s < stop - _SLACK_S) & (stops_s > start + _SLACK_S)
    return touches


def settled(times_s: np.ndarray, restarts_s: Sequence[float], needed_s: float) -> np.ndarray:
    """Which decisions lie at least `needed_s` after the last restart (the start is one)."""
    restarts = np.array(sorted({0.0, *restarts_s}))
    last = restarts[np.searchsorted(restarts, times_s + _SLACK_S, side="right") - 1]
    return times_s - last >= needed_s - _SLACK_S
