"""Signs that often go with drowsiness, measured step by step; no verdict here.

The rules of sleep scoring see the step from waking to light sleep where alpha falls
and low-amplitude 4-7 Hz activity takes its place for more than half of an epoch;
slow eye movements often come before (American Academy of Sleep Medicine, scoring
manual, stage N1, as quoted by teaching texts). What is measured here follows those
signs; nothing is staged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from aftersit.clean.slow_eyes import WINDOW_S, SlowCopy, carries_rolling, rolls_db, sees_eyes
from aftersit.quality import DrowsyLimit, DrowsySigns

ALPHA_HZ = (8.0, 13.0)
THETA_HZ = (4.0, 7.0)
"""The rules' 4-7 Hz: a slow alpha (8.5 Hz) hardly reaches it."""
ABOVE_ALPHA_HZ = (14.0, 18.0)
"""With theta on the other side, where the spectrum would be without alpha."""
POSTERIOR = ("O1", "O2", "P3", "Pz", "P4")
WIDESPREAD = ("C3", "C4", "T7", "T8", "P7", "P3", "P4", "P8", "O1", "O2")
"""Away from the front midline, where theta rises with attention too (Brandmeyer &
Delorme 2020, Front Hum Neurosci 14:246)."""
FEWEST_POSTERIOR, FEWEST_WIDESPREAD = 2, 5
HALF_WINDOW_S = 1.0
"""Half of a step: windows are as long as a step and overlap by half."""
SHORTEST_S = 2 * WINDOW_S
"""Nothing is measured in less."""
TOP_SHARE = 0.25
"""Share of the steps, those with most alpha, in which its height over the rest is read."""

Row = tuple[float | None, ...]


def measure_drowsy(
    cleaned: np.ndarray,
    names: list[str],
    rate_hz: float,
    lost: np.ndarray,
    copy: SlowCopy,
    high_pass_hz: float | None,
) -> DrowsySigns:
    """Alpha, theta and slow rolling eyes in steps of 2 s.

    Parameters
    ----------
    cleaned : ndarray, shape (n_good, n_samples)
        Good electrodes, average reference, without eye components; uV.
    names : list of str
        The good electrodes.
    rate_hz : float
        Sampling rate.
    lost : ndarray of bool, shape (n_samples,)
        Samples that can't be used.
    copy : SlowCopy
        Taken before the high-pass.
    high_pass_hz : float | None
        Of the recorder, as the header names it.
    """
    half = round(HALF_WINDOW_S * rate_hz)
    n_steps = cleaned.shape[1] // (2 * half)
    step_s = 2 * half / rate_hz
    if n_steps * step_s < SHORTEST_S:
        return DrowsySigns()
    steps = _Steps(np.arange(n_steps) * step_s, lost, rate_hz)
    alpha, theta, stands_db = _levels(cleaned, names, steps, half)
    rolls, why_not = _rolls(copy, names, steps, high_pass_hz)
    return DrowsySigns(
        step_s=step_s,
        alpha_db=alpha,
        theta_db=theta,
        rolls_db=rolls,
        alpha_stands_db=stands_db,
        limits=(*(() if alpha else ("no-posterior-electrodes",)), *why_not),
    )


@dataclass(frozen=True)
class _Steps:
    """Where the steps begin, and the samples that can't be used."""

    starts_s: np.ndarray
    lost: np.ndarray
    rate_hz: float

    def told(self, values: np.ndarray, from_s: float, to_s: float) -> Row:
        """A value a step; None where a sample is lost between two times from its start."""
        before = np.concatenate(([0], np.cumsum(self.lost)))
        edges = [np.round((self.starts_s + t) * self.rate_hz).astype(int) for t in (from_s, to_s)]
        first, last = (np.clip(edge, 0, self.lost.size) for edge in edges)
        clear = before[first] == before[last]
        return tuple(
            round(float(v), 2) if ok else None for v, ok in zip(values, clear, strict=True)
        )


def _rolls(
    copy: SlowCopy, names: list[str], steps: _Steps, high_pass_hz: float | None
) -> tuple[Row, tuple[DrowsyLimit, ...]]:
    """Slow rolling, or why it could not be measured."""
    if not sees_eyes(copy, names):
        return (), ("no-eye-electrodes",)
    if not carries_rolling(copy, high_pass_hz):
        return (), ("slow-waves-not-recorded",)
    middle_s, reach_s = HALF_WINDOW_S, WINDOW_S / 2
    values = rolls_db(copy, names, steps.starts_s + middle_s)
    return steps.told(values, middle_s - reach_s, middle_s + reach_s), ()


def _levels(
    cleaned: np.ndarray, names: list[str], steps: _Steps, half: int
) -> tuple[Row, Row, float | None]:
    """Alpha and theta step by step, and how far alpha stands out; empty without electrodes."""
    back = [name for name in POSTERIOR if name in names]
    wide = [name for name in WIDESPREAD if name in names]
    if len(back) < FEWEST_POSTERIOR or len(wide) < FEWEST_WIDESPREAD:
        return (), (), None
    wanted = sorted({*back, *wide})
    rows = [cleaned[names.index(name)] for name in wanted]
    bands = band_steps(rows, steps.rate_hz, half, (ALPHA_HZ, THETA_HZ, ABOVE_ALPHA_HZ))
    at_back = bands[:, [wanted.index(name) for name in back]].mean(axis=1)
    theta_db = np.median(_db(bands[1, [wanted.index(name) for name in wide]]), axis=0)
    reach_s = 3 * HALF_WINDOW_S
    alpha = steps.told(_db(at_back[0]), 0.0, reach_s)
    usable = np.array([value is not None for value in alpha])
    return alpha, steps.told(theta_db, 0.0, reach_s), _stands_db(at_back[:, usable])


def _db(power: np.ndarray) -> np.ndarray:
    return 10 * np.log10(power + 1e-12)


def _stands_db(power: np.ndarray) -> float | None:
    """Alpha over the rest of the spectrum, in the steps with most alpha; None without any.

    Halfway between theta and the band above, in log frequency, lies the middle of
    alpha, so a power law is met.

    Parameters
    ----------
    power : ndarray, shape (3, n_steps)
        Of alpha, theta and the band above.
    """
    if power.shape[1] == 0:
        return None
    top = power[0] >= np.quantile(power[0], 1 - TOP_SHARE)
    widths_hz = [high - low for low, high in (ALPHA_HZ, THETA_HZ, ABOVE_ALPHA_HZ)]
    alpha_db, below_db, above_db = _db(power[:, top].mean(axis=1) / widths_hz)
    return round(float(alpha_db - (below_db + above_db) / 2), 2)


def band_steps(
    rows: Sequence[np.ndarray],
    rate_hz: float,
    half: int,
    bands_hz: Sequence[tuple[float, float]],
) -> np.ndarray:
    """Band power in steps: means of two Hann windows of a step's length, half a step apart.

    One matrix product for each half of the window; bands are half open, in bins of
    `rate_hz / (2 half)`.

    Parameters
    ----------
    rows : sequence of ndarray, shape (n_samples,)
        High-passed.
    rate_hz : float
        Sampling rate.
    half : int
        Samples in half a step.
    bands_hz : sequence of (low, high)

    Returns
    -------
    ndarray, shape (n_bands, n_rows, n_steps)
        Square of the rows' unit. The later window reaches half a step beyond.
    """
    first, second, edges = _basis(half, rate_hz, bands_hz)
    out = [_row_steps(row, half, first, second, edges) for row in rows]
    return np.array(out).transpose(1, 0, 2)


def _basis(
    half: int, rate_hz: float, bands_hz: Sequence[tuple[float, float]]
) -> tuple[np.ndarray, np.ndarray, list[int]]:
    """Cosines, then sines, of all bins of all bands, for either half of the window.

    Scaled so that squares add up to power (Parseval; Heinzel et al. 2002).
    """
    size = 2 * half
    f = np.arange(half + 1) * rate_hz / size
    bins = [np.flatnonzero((f > low - 1e-6) & (f < high - 1e-6)) for low, high in bands_hz]
    phase = 2 * np.pi * np.outer(np.arange(size), np.concatenate(bins)) / size
    hann = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size)
    waves = np.hstack([np.cos(phase), np.sin(phase)]) * hann[:, None]
    waves *= np.sqrt(2 / (size * (hann**2).sum()))
    edges = np.cumsum([0, *(len(some) for some in bins)]).tolist()
    return waves[:half], waves[half:], edges


def _row_steps(
    row: np.ndarray, half: int, first: np.ndarray, second: np.ndarray, edges: list[int]
) -> np.ndarray:
    """Band powers of one row, shape (n_bands, n_steps)."""
    halves = row[: row.size // half * half].reshape(-1, half)
    parts = halves[:-1] @ first + halves[1:] @ second
    cosines, sines = np.hsplit(parts, 2)
    power = cosines**2 + sines**2
    bands = np.stack([power[:, a:b].sum(axis=1) for a, b in pairwise(edges)])
    # Window i begins with half i; a step has its own and the one that begins in its middle.
    n_steps = halves.shape[0] // 2
    later = np.concatenate([bands[:, 1:], bands[:, -1:]], axis=1)[:, : 2 * n_steps : 2]
    return (bands[:, : 2 * n_steps : 2] + later) / 2
