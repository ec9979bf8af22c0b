"""How far each electrode stands apart from what the others say it should hear."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from aftersit.clean.windows import (
    against_others,
    quadratic,
    typical_covariance,
    unexplained,
)

FLOOR = 0.1
"""Shares below it count alike: how well the others predict an electrode of a recording
that its makers have cleaned says how many components they took, and nothing of it."""


@dataclass(frozen=True)
class Band:
    """What the others leave unexplained in one band, per window and electrode.

    Attributes
    ----------
    rest_uv : ndarray, shape (n_windows, n_electrodes)
        Its amplitude.
    factor : ndarray, shape (n_windows, n_electrodes)
        The same over the whole amplitude of the typical electrode.
    share : ndarray, shape (n_windows, n_electrodes)
        Its part of the electrode's own variance.
    usable : ndarray of bool, shape (n_windows,)
        Windows that typical values, medians, are taken over.
    """

    rest_uv: np.ndarray
    factor: np.ndarray
    share: np.ndarray
    usable: np.ndarray

    @classmethod
    def of(cls, covariances: np.ndarray, usable: np.ndarray) -> "Band":
        """From window covariances, uV^2, shape (n_windows, n_electrodes, n_electrodes)."""
        whole = quadratic(against_others(covariances.shape[1]), covariances)
        rest = quadratic(unexplained(typical_covariance(covariances[usable])), covariances)
        typical_uv = np.sqrt(np.median(whole[usable])) + 1e-9
        rest_uv = np.sqrt(rest)
        return cls(rest_uv, rest_uv / typical_uv, rest / (whole + 1e-9), usable)

    def bad(self, factor: float, share: float) -> np.ndarray:
        """Windows in which both are passed."""
        return (self.factor > factor) & (self.share > share)

    @cached_property
    def typical_share(self) -> np.ndarray:
        return np.median(self.share[self.usable], axis=0)

    @cached_property
    def typical_factor(self) -> np.ndarray:
        return np.median(self.factor[self.usable], axis=0)

    @property
    def score(self) -> np.ndarray:
        """How far apart each electrode stands; see `score`."""
        odds = _odds(self.typical_share)
        return odds - np.median(odds) + np.log(self.typical_factor + 1e-9)

    @property
    def window_score(self) -> np.ndarray:
        """The same in each window, against the typical electrode of the whole time."""
        usual = np.median(_odds(self.typical_share))
        return _odds(self.share) - usual + np.log(self.factor + 1e-9)


def _odds(share: np.ndarray) -> np.ndarray:
    share = np.minimum(share, 1.0)
    return np.log((share + FLOOR) / (1 - share + FLOOR))


def score(bands: list[Band]) -> np.ndarray:
    """Mean over the bands of what an electrode alone has, shape (n_electrodes,).

    Log odds of the unexplained share, less those of the typical electrode, plus
    the logarithm of the unexplained amplitude over the typical electrode's. A
    contact's own noise lies in every band, a muscle's or a rhythm's in some.
    """
    return np.mean([band.score for band in bands], axis=0)


def window_score(bands: list[Band]) -> np.ndarray:
    """The same in each window, shape (n_windows, n_electrodes)."""
    return np.mean([band.window_score for band in bands], axis=0)


def factor(bands: list[Band]) -> np.ndarray:
    """Unexplained amplitude over the typical electrode's, geometric mean over the bands."""
    return np.exp(np.mean([np.log(band.typical_factor + 1e-9) for band in bands], axis=0))
