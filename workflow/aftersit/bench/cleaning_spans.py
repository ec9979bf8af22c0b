"""Bad seconds: how many of those put in are caught, and how many good ones are lost."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from aftersit.bench.heads import LABEL
from aftersit.bench.injected_spans import Event, all_events, in_turn, spoil
from aftersit.bench.recordings import Recording, opened, simulated
from aftersit.bench.table import Table
from aftersit.clean.spans import bad_samples
from aftersit.settings import load_settings

SEED = 62000
MINUTES = 4.0
COPIES = 3
"""A recording is spoilt three times, each time by a third of the events."""


@dataclass(frozen=True)
class Caught:
    """Seconds of one event, and those of them that were called bad."""

    event: Event
    source: str
    spoilt_s: float
    caught_s: float


@dataclass(frozen=True)
class Kept:
    """Good seconds of one spoilt copy, and those of them that were lost beside events."""

    source: str
    good_s: float
    lost_s: float


def span_tables(quick: bool) -> Iterator[Table]:
    """Seconds caught by kind and size, and good seconds lost."""
    caught: list[Caught] = []
    kept: list[Kept] = []
    for number, base in enumerate(_bases(quick)):
        for copy in range(1 if quick else COPIES):
            _spoil(base, number, copy, caught, kept)
    yield Table(
        "spans",
        "bad seconds caught, %",
        [*_rows(caught), _row("all", "all sizes", caught)],
        notes=(
            "events put into simulated sittings of other heads (muscle in two of three) and "
            "into the open recordings, 6-9 s apart, random electrodes; sizes of waves as root "
            "mean square, of pops as the jump (its first 0.3 s must be caught)",
        ),
    )
    yield Table(
        "spans-good",
        "good seconds lost, % (beyond the guard of half a second)",
        [_kept_row(source, kept) for source in ("simulated", "open")],
    )


def _bases(quick: bool) -> Iterator[Recording]:
    yield from simulated(1 if quick else 6, 2.0 if quick else MINUTES, SEED)
    yield from opened(1 if quick else 9, 60.0 if quick else np.inf)


def _spoil(base: Recording, number: int, copy: int, caught: list[Caught], kept: list[Kept]) -> None:
    events = [e for e in in_turn(SEED + number)[copy::COPIES] if _can_hold(base, e)]
    spoilt = spoil(base.x, base.rate_hz, base.mains_hz, events, SEED + 10 * number + copy)
    spans = base.cleaned(spoilt.x).quality.bad_spans
    lost = bad_samples(spans, base.rate_hz, base.x.shape[1])
    for event, part in spoilt.parts:
        seconds = (part.stop - part.start) / base.rate_hz
        caught.append(Caught(event, base.source, seconds, float(lost[part].mean()) * seconds))
    good = spoilt.good(load_settings(LABEL).clean.spans.guard_s) & ~base.really_bad
    kept.append(Kept(base.source, good.sum() / base.rate_hz, (good & lost).sum() / base.rate_hz))


def _can_hold(base: Recording, event: Event) -> bool:
    """Mains does not pass a recorder's low-pass below it."""
    return event.kind != "mains" or base.limits.high_hz is None


def _rows(caught: list[Caught]) -> Iterator[dict]:
    for event in all_events():
        key = (event.kind, event.size)
        yield _row(*key, [c for c in caught if (c.event.kind, c.event.size) == key])


def _row(kind: str, size: str, caught: list[Caught]) -> dict:
    return {
        "kind": kind,
        "size": size,
        "events": len(caught),
        "seconds": round(sum(c.spoilt_s for c in caught), 1),
        "caught_percent": _percent(caught),
        "simulated": _percent([c for c in caught if c.source == "simulated"]),
        "open": _percent([c for c in caught if c.source == "open"]),
    }


def _percent(caught: list[Caught]) -> float | None:
    whole = sum(c.spoilt_s for c in caught)
    return round(100 * sum(c.caught_s for c in caught) / whole, 1) if whole else None


def _kept_row(source: str, kept: list[Kept]) -> dict:
    own = [k for k in kept if k.source == source]
    good_s, lost_s = sum(k.good_s for k in own), sum(k.lost_s for k in own)
    shares = [100 * k.lost_s / k.good_s for k in own if k.good_s]
    return {
        "recordings": source,
        "copies": len(own),
        "good_s": round(good_s, 1),
        "lost_percent": round(100 * lost_s / good_s, 2) if good_s else None,
        "worst_copy": round(max(shares), 2) if shares else None,
    }
