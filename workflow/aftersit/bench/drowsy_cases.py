"""Simulated sittings with drowsy spells, and awake ones that look like them."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from aftersit.bench.case import Case, Drowsiness, Rhythm
from aftersit.bench.measured import band_covariance
from aftersit.bench.sittings import Simulated, simulate
from aftersit.blocks import Block
from aftersit.clean.drowsy import THETA_HZ
from aftersit.sheet import Kind
from demo_clinic import background
from demo_clinic.noise import generator
from demo_clinic.sources import Sources, average_reference
from demo_clinic.spans import Span, alternating, gate

MINUTES = 10.0
CUTS_S = (0.0, 120.0, 360.0, 600.0)
FALL_DB, RISE_DB, ROLLING_UV, SPELL_S = (4.0, 12.0), (2.0, 6.0), (20.0, 70.0), (15.0, 120.0)
"""Depth and length of spells: alpha's fall, theta's rise over the background, at F8; s."""
WANES_DB = 2.0
MIDLINE = ("superiorfrontal-left", "superiorfrontal-right", "caudalanteriorcingulate-left")


@dataclass(frozen=True)
class Doze:
    """A sitting to be simulated, and what is true of it.

    Attributes
    ----------
    kind : str
        Key of `KINDS`.
    case : Case
        Its spells have no theta of their own; `simulated` adds it.
    rise_db : float
        Theta in the spells over the background's.
    blocks : tuple of Block
    """

    kind: str
    case: Case
    rise_db: float
    blocks: tuple[Block, ...]

    @property
    def spells(self) -> tuple[Span, ...]:
        """When the person is drowsy; a fall of alpha alone is no spell."""
        return self.case.drowsiness.spans if self.rise_db else ()


def simulated(doze: Doze, sources: Sources | None = None) -> Simulated:
    """Simulate it, of one of the other heads or a given one.

    Theta rises widely, by the same dB at the mean electrode.
    """
    made = simulate(doze.case, sources)
    if not doze.rise_db:
        return made
    rate_hz, n_samples = made.rate_hz, made.brain.shape[1]
    own = average_reference(band_covariance(made.brain, rate_hz, THETA_HZ))
    level = np.trace(own) / len(own) * (10 ** (doze.rise_db / 10) - 1)
    on = gate(list(doze.spells), n_samples, rate_hz, 3.0)
    rng = generator(doze.case.seed, "wide theta")
    return made.with_part("theta", background.theta(rng, made.sources, on, rate_hz, level))


def _blocks(case: Case) -> tuple[Block, ...]:
    blocks = []
    for index, (start, stop) in enumerate(pairwise(CUTS_S), 1):
        kind = Kind.BASELINE if index == 1 else Kind.PRACTICE
        own = [eyes for eyes in ("open", "closed") if (start, stop) in _parts(case, eyes)]
        blocks.append(Block(index, kind, start, stop, own[0], "none"))
    return tuple(blocks)


def _parts(case: Case, eyes: str) -> list[Span]:
    spans = case.eyes_spans(eyes)
    return [(a, b) for a, b in pairwise(CUTS_S) if any(c <= a and b <= d for c, d in spans)]


def _spells(rng: np.random.Generator, pause_s: tuple[float, float]) -> tuple[Span, ...]:
    """Spells in the practice, of lengths spread evenly in log; none across its end."""
    spells, at = [], CUTS_S[1] + 10
    while True:
        start = at + rng.uniform(*pause_s)
        stop = start + np.exp(rng.uniform(*np.log(SPELL_S)))
        if stop > CUTS_S[-1] - 10:
            return tuple(spells)
        spells.append((float(start), float(stop)))
        at = stop


def _drowsy(
    seed: int, rolls: bool, eyes_other: tuple[Span, ...] = (), pause_s=(25.0, 110.0)
) -> tuple[Case, float]:
    rng = generator(seed, "spells")
    spells = _spells(rng, pause_s)
    fall_db, rise_db = rng.uniform(*FALL_DB), rng.uniform(*RISE_DB)
    rolling_uv = float(rng.uniform(*ROLLING_UV)) if rolls else 0.0
    dozing = Drowsiness(spells, -float(fall_db), 0.0, rolling_uv)
    return _person(seed, drowsiness=dozing, eyes_other=eyes_other), float(rise_db)


def _person(seed: int, **given) -> Case:
    wanes = given.pop("alpha_wanes_db", 1.0)
    return Case.drawn(seed, minutes=MINUTES, eyes="closed", alpha_wanes_db=wanes, **given)


def _bursts(seed: int, rng: np.random.Generator) -> Rhythm:
    within = (CUTS_S[1], CUTS_S[-1])
    spans = alternating(rng, within, float(rng.uniform(5, 25)), float(rng.uniform(6, 20)))
    place = MIDLINE[seed % len(MIDLINE)]
    return Rhythm(place, (4.0, 7.5), float(rng.uniform(3, 6)), tuple(spans))


def _waning(seed: int) -> tuple[Case, float]:
    return _person(seed, alpha_wanes_db=WANES_DB), 0.0


def _midline(seed: int) -> tuple[Case, float]:
    rhythm = _bursts(seed, generator(seed, "midline"))
    return _person(seed, rhythms=(rhythm,)), 0.0


def _trained(seed: int) -> tuple[Case, float]:
    """Alpha falls while midline theta is up: what a protocol may ask for."""
    rng = generator(seed, "trained")
    rhythm = _bursts(seed, rng)
    falls = Drowsiness(rhythm.spans, -float(rng.uniform(*FALL_DB)), 0.0, 0.0)
    return _person(seed, rhythms=(rhythm,), drowsiness=falls), 0.0


def _eyes_change(seed: int) -> tuple[Case, float]:
    return _person(seed, eyes_other=((CUTS_S[1], CUTS_S[2]),)), 0.0


def _looking(seed: int) -> tuple[Case, float]:
    return _person(seed, eyes_other=((CUTS_S[1], CUTS_S[3]),), saccade_uv=45.0), 0.0


Drawn = Callable[[int], tuple[Case, float]]
PRACTICE = ((CUTS_S[1], CUTS_S[3]),)
KINDS: dict[str, Drawn] = {
    "drowsy, eyes roll": lambda seed: _drowsy(seed, True),
    "drowsy, no rolling": lambda seed: _drowsy(seed, False),
    "drowsy most of the time": lambda seed: _drowsy(seed, seed % 2 == 0, (), (5.0, 25.0)),
    "drowsy, eyes open, roll": lambda seed: _drowsy(seed, True, PRACTICE),
    "awake, alpha waxes and wanes": _waning,
    "awake, midline theta": _midline,
    "awake, eyes open and closed": _eyes_change,
    "awake, eyes open, looking round": _looking,
    "awake, midline theta while alpha falls": _trained,
}


def dozes(n: int, seed: int) -> list[Doze]:
    """The same number of sittings of each kind, no person twice."""
    found = []
    for place, (kind, drawn) in enumerate(KINDS.items()):
        for number in range(n):
            case, rise_db = drawn(seed + 100 * place + number)
            found.append(Doze(kind, case, rise_db, _blocks(case)))
    return found
