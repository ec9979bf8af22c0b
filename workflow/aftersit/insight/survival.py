"""How long bouts last when some are cut short.

Kaplan and Meier's estimate (1958, J Am Stat Assoc 53:457): a bout that a block's
end, a bad span, the artefact gate or unknown time ended would have lasted at
least so long.
"""

import warnings
from collections.abc import Sequence

import numpy as np

from aftersit.findings import StillOn, Survival
from aftersit.record import Bout

LENGTHS_S = (1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0)


def survival(bouts: Sequence[Bout]) -> Survival | None:
    """Survival of bout lengths; None without bouts."""
    if not bouts:
        return None
    lengths = np.array([b.length_s for b in bouts])
    lapsed = np.array([b.ended_by == "lapse" for b in bouts])
    if not lapsed.any():
        return Survival(bouts=len(bouts), cut=len(bouts), median_s=None, still_on=())
    at, share, low, high = kaplan_meier(lengths, lapsed)
    return Survival(
        bouts=len(bouts),
        cut=int((~lapsed).sum()),
        median_s=_half_left(at, share),
        still_on=tuple(_still_on(s, at, share, low, high) for s in LENGTHS_S if s <= lengths.max()),
    )


def median_s(lengths: np.ndarray, ended: np.ndarray) -> float | None:
    """Length that half outlast, as `kaplan_meier`; None when more outlast all that was seen."""
    return _half_left(*kaplan_meier(lengths, ended)[:2]) if ended.any() else None


def _half_left(at: np.ndarray, share: np.ndarray) -> float | None:
    below = np.flatnonzero(share <= 0.5 + 1e-12)
    return float(at[below[0]]) if len(below) else None


def kaplan_meier(
    lengths: np.ndarray, ended: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Share that lasts beyond each length that occurs, with a 95 % interval.

    Parameters
    ----------
    lengths : ndarray, shape (n,)
    ended : ndarray of bool, shape (n,)
        Whether it ended by itself; the others were cut. At least one is True.

    Returns
    -------
    ndarray, each of shape (n_lengths,)
        Lengths, rising; shares; lower and upper ends (log-log form), NaN where
        there is none.
    """
    from scipy import stats

    data = stats.CensoredData.right_censored(lengths, ~ended)
    found = stats.ecdf(data).sf
    with np.errstate(divide="ignore", invalid="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # no interval where none or all are left
        between = found.confidence_interval(0.95, method="log-log")
    return (
        found.quantiles,
        found.probabilities,
        between.low.probabilities,
        (between.high.probabilities),
    )


def _still_on(
    length_s: float, at: np.ndarray, share: np.ndarray, low: np.ndarray, high: np.ndarray
) -> StillOn:
    place = int(np.searchsorted(at, length_s + 1e-9, side="right")) - 1
    if place < 0:
        return StillOn(length_s=length_s, share=1.0, low=None, high=None)
    ends = [float(x[place]) if np.isfinite(x[place]) else None for x in (low, high)]
    return StillOn(length_s=length_s, share=float(share[place]), low=ends[0], high=ends[1])
