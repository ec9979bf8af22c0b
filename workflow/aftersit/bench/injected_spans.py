"""Bad seconds put into recordings on purpose, at stated sizes."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from aftersit.bench.injected import own_size_uv, rough_noise
from demo_clinic import faults
from demo_clinic.spans import gate

Make = Callable[["Spoilt", slice, np.random.Generator], None]

APART_S = 6.0
"""Good seconds between two events, at least."""
POP_S = 0.3
"""What of a pop must be caught: the jump. It sinks back within seconds, outside all bands."""
FADING_S = 2.0
"""After a pop neither good nor bad."""


@dataclass(frozen=True)
class Event:
    """Something that spoils a stretch of time, added in place.

    Attributes
    ----------
    kind, size : str
        What goes wrong, and how much of it.
    length_s : float
        How long.
    make : callable
        (spoilt, part, rng): changes its signal in `part`; a pop also what follows.
    fading_s : float
        How long after it seconds are neither good nor bad.
    """

    kind: str
    size: str
    length_s: float
    make: Make
    fading_s: float = 0.0


@dataclass
class Spoilt:
    """A recording with events.

    Attributes
    ----------
    x : ndarray, shape (19, n_samples)
        uV.
    parts : list of (Event, slice)
        Where each lies.
    rails_uv : dict
        Row -> where its amplifier ends.
    """

    x: np.ndarray
    rate_hz: float
    mains_hz: float
    parts: list[tuple[Event, slice]] = field(default_factory=list)
    rails_uv: dict[int, float] = field(default_factory=dict)

    def good(self, guard_s: float) -> np.ndarray:
        """Samples at least a guard away from all events, shape (n_samples,)."""
        good = np.ones(self.x.shape[1], bool)
        for event, part in self.parts:
            before = round(guard_s * self.rate_hz)
            after = round((guard_s + event.fading_s) * self.rate_hz)
            good[max(part.start - before, 0) : part.stop + after] = False
        return good


def spoil(x: np.ndarray, rate_hz: float, mains_hz: float, events: list[Event], seed: int) -> Spoilt:
    """A copy of a recording with as many of the events, in turn, as have room."""
    rng = np.random.default_rng(seed)
    spoilt = Spoilt(x.copy(), rate_hz, mains_hz)
    at_s = 2.0
    for event in events:
        at_s += APART_S * rng.uniform(1.0, 1.5)
        part = slice(round(at_s * rate_hz), round((at_s + event.length_s) * rate_hz))
        at_s += event.length_s + event.fading_s
        if at_s + APART_S > x.shape[1] / rate_hz:
            break
        event.make(spoilt, part, rng)
        spoilt.parts.append((event, part))
    for row, rail_uv in spoilt.rails_uv.items():
        spoilt.x[row] = np.minimum(spoilt.x[row], rail_uv)
    return spoilt


def in_turn(seed: int) -> list[Event]:
    """All events, in an order of their own for each seed."""
    events = list(all_events())
    return [events[i] for i in np.random.default_rng(seed).permutation(len(events))]


def all_events() -> Iterator[Event]:
    """One of each kind and size."""
    for uv in (30, 60, 120, 300):
        yield Event("movement, slow", f"{uv} uV", 3.0, _movement(uv))
    for uv in (60, 150, 400):
        yield Event("movement, rough", f"{uv} uV", 2.5, _rough(uv))
    for uv in (50, 100, 200, 400):
        yield Event("pop", f"{uv} uV", POP_S, _pop(uv), FADING_S)
    for uv in (150, 600):
        yield Event("clipping", f"rail at {uv} uV", 2.0, _clipping(uv))
    for seconds in (0.3, 1.0, 3.0):
        yield Event("dropout", f"{seconds:g} s", seconds, _still(everywhere=True))
        yield Event("constant", f"{seconds:g} s", seconds, _still(everywhere=False))
    for uv in (5, 10, 20, 50):
        yield Event("mains", f"{uv} uV", 2.0, _mains(uv))
    for times in (2, 4, 10):
        yield Event("contact noise", f"{times} x its own size", 3.0, _contact(times))


def _movement(size_uv: float) -> Make:
    """The head moves: slow waves of this size (root mean square) at every electrode."""

    def make(spoilt, part, rng):
        n = part.stop - part.start
        whole = [(0.0, n / spoilt.rate_hz)]
        waves = faults.movement(rng, whole, len(spoilt.x), n, spoilt.rate_hz, size_uv)
        spoilt.x[:, part] += waves

    return make


def _rough(size_uv: float) -> Make:
    """The head moves with jaw and neck: slow waves, and a third of it fast."""

    def make(spoilt, part, rng):
        _movement(size_uv)(spoilt, part, rng)
        sizes = size_uv / 3 * rng.lognormal(0, 0.4, (len(spoilt.x), 1))
        noise = rng.standard_normal((len(spoilt.x), part.stop - part.start))
        spoilt.x[:, part] += sizes * noise * _opened(part, spoilt.rate_hz)

    return make


def _opened(part: slice, rate_hz: float, ramp_s: float = 0.2) -> np.ndarray:
    n = part.stop - part.start
    return gate([(0.0, n / rate_hz)], n, rate_hz, ramp_s)


def _pop(size_uv: float) -> Make:
    def make(spoilt, part, rng):
        row = _some_row(spoilt, rng)
        left = spoilt.x.shape[1] - part.start
        pop = faults.pop(left, spoilt.rate_hz, 0.0, size_uv)
        spoilt.x[row, part.start :] += rng.choice([-1, 1]) * pop

    return make


def _some_row(spoilt: Spoilt, rng: np.random.Generator) -> int:
    return int(rng.integers(len(spoilt.x)))


def _clipping(rail_uv: float) -> Make:
    """An electrode is pushed to the amplifier's end, so far above its median."""

    def make(spoilt, part, rng):
        row = int(rng.choice([r for r in range(len(spoilt.x)) if r not in spoilt.rails_uv]))
        spoilt.rails_uv[row] = np.median(spoilt.x[row]) + rail_uv
        level = np.median(spoilt.x[row, part])
        push = spoilt.rails_uv[row] - level
        spoilt.x[row, part] += push * _opened(part, spoilt.rate_hz, 0.3)

    return make


def _still(everywhere: bool) -> Make:
    def make(spoilt, part, rng):
        rows = slice(None) if everywhere else [_some_row(spoilt, rng)]
        spoilt.x[rows, part] = spoilt.x[rows, part.start][:, None]

    return make


def _mains(size_uv: float) -> Make:
    """Hum of this amplitude at one electrode, less at a few others."""

    def make(spoilt, part, rng):
        t = np.arange(part.stop - part.start) / spoilt.rate_hz
        wave = np.sin(2 * np.pi * spoilt.mains_hz * t + rng.uniform(0, 6))
        n = len(spoilt.x)
        sizes = size_uv * rng.uniform(0, 0.5, n) * (rng.random(n) < 0.3)
        sizes[_some_row(spoilt, rng)] = size_uv
        spoilt.x[:, part] += np.outer(sizes, wave * _opened(part, spoilt.rate_hz))

    return make


def _contact(times: float) -> Make:
    """Rough noise at an electrode, so many times its own size."""

    def make(spoilt, part, rng):
        row = _some_row(spoilt, rng)
        noise = rough_noise(rng, part.stop - part.start, spoilt.rate_hz)
        size_uv = times * own_size_uv(spoilt.x, row, spoilt.rate_hz)
        spoilt.x[row, part] += size_uv * noise * _opened(part, spoilt.rate_hz)

    return make
