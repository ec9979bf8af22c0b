"""What electrodes are judged by, measured on the filtered signal."""

import numpy as np

from aftersit.clean import spans
from aftersit.clean.electrodes import (
    FEWEST,
    N_SLOW,
    Findings,
    Measures,
    bad_awhile,
    judge_alone,
    judge_together,
    judge_wiring,
)
from aftersit.clean.sitting import Sitting
from aftersit.clean.windows import band_covariances, in_windows, typical_covariance, unexplained
from aftersit.electrodes import STANDARD_19
from aftersit.quality import Carried

BANDS_HZ = ((1.0, 4.0), (4.0, 8.0), (8.0, 13.0), (13.0, 20.0), (20.0, 30.0), (30.0, 45.0))
"""Narrow enough that one strong rhythm says nothing of the others; the first four are `slow`."""
FEWEST_WINDOWS = 10
FEWEST_POPS = 4
"""Fewer may be chance, however short the recording."""
SHAKEN_S, SHAKEN_SHARE = 0.5, 0.35
"""A large blink reaches the six frontal electrodes beside the midline, 0.32 of all."""


def find_bad_electrodes(
    sitting: Sitting, drift_uv: np.ndarray, holds: Carried
) -> tuple[Findings, np.ndarray]:
    """Judge the electrodes of a high-passed sitting.

    Parameters
    ----------
    sitting : Sitting
        High-passed.
    drift_uv : ndarray, shape (n_spans, n_electrodes)
        What the high-pass took away, standard deviation in 5 s.
    holds : Carried
        What the recording carries.

    Returns
    -------
    Findings
        Bad electrodes and bad windows.
    ndarray, shape (n_electrodes, n_electrodes)
        Typical covariance of all recorded electrodes, 1-20 Hz, uV^2.
    """
    hop = sitting.hop
    high_hz = max(holds.high_hz, BANDS_HZ[N_SLOW - 1][1])
    bands_hz = [band for band in BANDS_HZ if band[1] <= min(high_hz, sitting.rate_hz / 2)]
    bands = band_covariances(sitting.x, sitting.rate_hz, hop, bands_hz)
    shaken = shaken_windows(sitting)
    usable = _usable_windows(sitting, shaken)
    measures = Measures(
        names=tuple(sitting.names),
        bands=bands,
        drift_uv=drift_uv,
        usable=usable,
        still=_still_windows(sitting),
        constant_share=sitting.constant_share(),
    )
    typical = typical_covariance(measures.slow[usable])
    found = judge_alone(STANDARD_19, measures, sitting.settings.electrodes)
    judge_together(found, measures, sitting.settings.electrodes)
    while len(found.good) > FEWEST and _drop_popping(sitting, found, typical, shaken):
        pass
    judge_wiring(found, measures, sitting.settings.electrodes)
    bad_awhile(found, measures, sitting.settings.electrodes)
    return found, typical


def shaken_windows(sitting: Sitting) -> np.ndarray:
    """Samples at which the head moves: more electrodes swing than a blink reaches."""
    hop = round(SHAKEN_S * sitting.rate_hz / 2)
    swing = spans.swings(sitting.x, hop, round(spans.JUMP_S * sitting.rate_hz))
    many = spans.beyond_usual(swing, sitting.settings.spans).mean(axis=0) > SHAKEN_SHARE
    shaken = np.zeros(sitting.n_samples, bool)
    for _, start, stop in spans.window_runs(many[None], hop):
        # Filters carry a large wave into its neighbourhood.
        shaken[max(start - hop, 0) : stop + 3 * hop] = True
    return shaken


def _usable_windows(sitting: Sitting, shaken: np.ndarray) -> np.ndarray:
    """Windows without dropouts and movement; all when too few are left."""
    bad = in_windows(sitting.stopped | shaken, sitting.hop)
    return ~bad if (~bad).sum() >= FEWEST_WINDOWS else np.ones_like(bad)


def _still_windows(sitting: Sitting) -> np.ndarray:
    """Windows with a constant run, shape (n_windows, n_electrodes)."""
    still = np.zeros((sitting.n_samples // sitting.hop - 1, len(sitting.names)), bool)
    for row, start, stop in sitting.constant:
        still[max(start // sitting.hop - 1, 0) : -(-stop // sitting.hop), row] = True
    return still


def _drop_popping(
    sitting: Sitting, found: Findings, typical: np.ndarray, shaken: np.ndarray
) -> bool:
    """Of the electrodes that pop too often drop the loudest; False when all may stay."""
    jump, size = jumps_alone(sitting, found.good, typical)
    flags = spans.pops(jump, sitting.settings.spans) & ~shaken[::size]
    flags &= flags.mean(axis=0) < sitting.settings.spans.movement_electrodes
    minutes = sitting.n_samples / sitting.rate_hz / 60
    pops = np.array([len(spans.window_runs(line[None], 1)) for line in flags])
    per_minute = pops / minutes
    often = per_minute > sitting.settings.electrodes.pops_per_minute
    often &= pops >= FEWEST_POPS
    if not often.any():
        return False
    worst = int(np.argmax(np.where(often, (jump * flags).sum(axis=1), -1)))
    found.add(found.good[worst], "popping", pops_per_minute=per_minute[worst])
    return True


def jumps_alone(sitting: Sitting, good: list[str], typical: np.ndarray) -> tuple[np.ndarray, int]:
    """Jumps of good electrodes in what the others do not explain, so that blinks are none.

    Returns
    -------
    jump : ndarray, shape (n_good, n_windows)
        uV.
    size : int
        Samples in a window.
    """
    rows = sitting.rows(good)
    rest = unexplained(typical[np.ix_(rows, rows)])
    return spans.jumps(rest, sitting.x, rows, sitting.rate_hz)
