"""Bad electrodes, each with its reason and the figures behind it."""

from dataclasses import dataclass, field

import numpy as np

from aftersit.clean.settings import ElectrodeSettings
from aftersit.clean.windows import (
    against_others,
    quadratic,
    typical_covariance,
    unexplained,
)
from aftersit.quality import Electrode, ElectrodeReason

FEWEST = 8
"""With no more electrodes than this, none can be judged by the others."""


@dataclass
class Findings:
    """What has been found so far; grows while electrodes are judged.

    Attributes
    ----------
    names : tuple of str
        The montage's electrodes, in its order.
    reasons, evidence : dict
        By electrode; only electrodes with a reason count as bad.
    bad_windows : ndarray of bool, shape (n_windows, n_electrodes)
        Where an electrode was bad for a while.
    """

    names: tuple[str, ...]
    reasons: dict[str, list[ElectrodeReason]] = field(default_factory=dict)
    evidence: dict[str, dict[str, float]] = field(default_factory=dict)
    bad_windows: np.ndarray | None = None

    def add(self, name: str, reason: ElectrodeReason, **evidence: float) -> None:
        """Note a reason with its figures (names end in the unit)."""
        self.reasons.setdefault(name, []).append(reason)
        self.note(name, **evidence)

    def note(self, name: str, **evidence: float) -> None:
        """Note figures without judging."""
        rounded = {key: float(np.round(value, 4)) for key, value in evidence.items()}
        self.evidence.setdefault(name, {}).update(rounded)

    @property
    def good(self) -> list[str]:
        """Electrodes without a reason against them, in order."""
        return [name for name in self.names if name not in self.reasons]

    def electrodes(self) -> tuple[Electrode, ...]:
        """The account for `Quality`."""
        return tuple(
            Electrode(
                name=name,
                good=name not in self.reasons,
                reasons=tuple(self.reasons.get(name, ())),
                evidence=self.evidence.get(name, {}),
            )
            for name in self.names
        )


@dataclass(frozen=True)
class _Band:
    """What the others leave unexplained, per window and electrode.

    `rest_uv` is its amplitude, `factor` the same over the whole amplitude of the
    typical electrode, `share` its part of the electrode's own variance; the
    typical values are medians over the usable windows.
    """

    rest_uv: np.ndarray
    factor: np.ndarray
    share: np.ndarray
    usable: np.ndarray

    def bad(self, factor: float, share: float) -> np.ndarray:
        return (self.factor > factor) & (self.share > share)

    @property
    def typical_share(self) -> np.ndarray:
        return np.clip(np.median(self.share[self.usable], axis=0), 1e-6, 1 - 1e-6)

    @property
    def typical_factor(self) -> np.ndarray:
        return np.median(self.factor[self.usable], axis=0)


@dataclass(frozen=True)
class Measures:
    """What electrodes are judged by; rows and columns are the electrodes that were recorded.

    Attributes
    ----------
    names : tuple of str
        Recorded electrodes, in the montage's order.
    slow, fast : ndarray, shape (n_windows, n_electrodes, n_electrodes)
        Window covariances of 1-20 Hz and above 30 Hz, uV^2.
    drift_uv : ndarray, shape (n_spans, n_electrodes)
        Standard deviation below the high-pass in 5 s.
    usable : ndarray of bool, shape (n_windows,)
        Windows free of gross events.
    constant_share : ndarray, shape (n_electrodes,)
        Part of the sitting in constant runs of this electrode alone.
    """

    names: tuple[str, ...]
    slow: np.ndarray
    fast: np.ndarray
    drift_uv: np.ndarray
    usable: np.ndarray
    constant_share: np.ndarray


def judge_alone(
    montage: tuple[str, ...], measures: Measures, settings: ElectrodeSettings
) -> Findings:
    """Find the electrodes that are bad by themselves: missing, flat, drifting.

    Parameters
    ----------
    montage : tuple of str
        Names that were expected.
    measures : Measures
        Of the electrodes that were recorded.
    settings : ElectrodeSettings
        Limits.
    """
    found = Findings(montage)
    for name in montage:
        if name not in measures.names:
            found.add(name, "missing")
    found.bad_windows = np.zeros((len(measures.slow), len(measures.names)), bool)
    _flat(found, measures, settings)
    _drifting(found, measures, settings)
    return found


def judge_together(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Add those that are bad beside the others: noisy, unrelated, bridged, swapped.

    The worst electrode goes first and the others are judged anew without it,
    since a bad electrode spoils the reference and the predictions of all
    (Bigdely-Shamlo et al. 2015, Front Neuroinform 9:16).
    """
    while len(found.good) > FEWEST and _drop_worst(found, measures, settings):
        pass
    if len(found.good) > FEWEST:
        _bridged(found, measures, settings)
        _swapped(found, measures, settings)


def _rows(found: Findings, measures: Measures) -> np.ndarray:
    return np.array([measures.names.index(name) for name in found.good], int)


def _flat(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    size = np.sqrt(np.median(np.diagonal(measures.slow, axis1=1, axis2=2), axis=0))
    for name, uv, share in zip(measures.names, size, measures.constant_share, strict=True):
        if uv < settings.flat_uv or share > settings.bad_share:
            found.add(name, "flat", amplitude_uv=uv, constant_share=share)


def _drifting(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    rows = _rows(found, measures)
    drift = measures.drift_uv[:, rows]
    typical = np.median(drift)
    bad = (drift > settings.drift_uv) & (drift > settings.drift_factor * typical)
    for name, share, uv in zip(
        np.array(measures.names)[rows], bad.mean(axis=0), np.median(drift, axis=0), strict=True
    ):
        if share > settings.bad_share:
            found.add(str(name), "drifting", drift_uv=uv, bad_share=share)


def _drop_worst(found: Findings, measures: Measures, settings: ElectrodeSettings) -> bool:
    """Drop the electrode that stands out most; False when all may stay."""
    rows = _rows(found, measures)
    slow = _band(measures.slow, rows, measures.usable)
    fast = _band(measures.fast, rows, measures.usable)
    noisy = slow.bad(settings.noisy_factor, settings.noisy_unexplained)
    noisy |= fast.bad(settings.fast_factor, settings.fast_unexplained)
    share = noisy[measures.usable].mean(axis=0)
    lonely = _lonely(slow, settings)
    awhile = slow.bad(settings.awhile_factor, settings.noisy_unexplained)
    found.bad_windows[:, rows] = awhile & (slow.rest_uv > settings.awhile_uv)
    bad = lonely | (share > settings.bad_share)
    if not bad.any():
        return False
    worst = int(np.argmax(np.where(bad, share + slow.typical_share, -1)))
    loud = share[worst] > settings.bad_share or slow.typical_factor[worst] > 1
    found.add(
        measures.names[rows[worst]],
        "noisy" if loud else "unrelated",
        bad_share=share[worst],
        unexplained_share=slow.typical_share[worst],
        slow_factor=slow.typical_factor[worst],
        fast_factor=fast.typical_factor[worst],
    )
    return True


def _lonely(slow: _Band, settings: ElectrodeSettings) -> np.ndarray:
    """Electrodes that the others know nothing of, or far less than they know of each other."""
    odds = np.log(slow.typical_share / (1 - slow.typical_share))
    alone = slow.typical_share > 1 - settings.unrelated_correlation**2
    alone |= odds - np.median(odds) > settings.stands_out
    return alone & (slow.typical_factor > settings.lonely_factor)


def _band(covariances: np.ndarray, rows: np.ndarray, usable: np.ndarray) -> _Band:
    chosen = covariances[:, rows[:, None], rows[None, :]]
    whole = quadratic(against_others(len(rows)), chosen)
    rest = quadratic(unexplained(typical_covariance(chosen[usable])), chosen)
    rest_uv, typical = np.sqrt(rest), np.sqrt(np.median(whole[usable]))
    return _Band(rest_uv, rest_uv / (typical + 1e-9), rest / (whole + 1e-9), usable)


def _bridged(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Two electrodes with the same signal: gel between them. The later one goes.

    Difference of the pair against that of all pairs, after the electrical
    distance of Tenke and Kayser 2001, Clin Neurophysiol 112:545 (from memory).
    """
    rows = _rows(found, measures)
    typical = np.median(measures.slow[measures.usable][:, rows[:, None], rows], axis=0)
    power = np.diag(typical)
    difference = np.sqrt(np.maximum(power[:, None] + power - 2 * typical, 0))
    upper = np.triu_indices(len(rows), 1)
    limit = min(settings.bridged_uv, settings.bridged_share * np.median(difference[upper]))
    for one, two in zip(*upper, strict=True):
        first, second = measures.names[rows[one]], measures.names[rows[two]]
        if difference[one, two] < limit and not {first, second} & set(found.reasons):
            found.note(first, bridge_difference_uv=difference[one, two])
            found.add(second, "bridged", bridge_difference_uv=difference[one, two])


PAIRS = (("Fp1", "Fp2"), ("F7", "F8"), ("F3", "F4"), ("T7", "T8"), ("C3", "C4"), ("P7", "P8"))
PAIRS += (("P3", "P4"), ("O1", "O2"))


def _swapped(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Left and right electrode of a pair fit their surroundings better when exchanged."""
    rows = _rows(found, measures)
    names = [measures.names[row] for row in rows]
    typical = np.median(measures.slow[measures.usable][:, rows[:, None], rows], axis=0)
    centred = against_others(len(rows)) @ typical @ against_others(len(rows)).T
    size = np.sqrt(np.diag(centred))
    related = centred / np.outer(size, size)
    for left, right in PAIRS:
        if left in names and right in names:
            gain = _swap_gain(related, names, left, right)
            if gain > settings.swap_margin:
                found.add(left, "swapped", swap_gain=gain)
                found.add(right, "swapped", swap_gain=gain)


def _swap_gain(related: np.ndarray, names: list[str], left: str, right: str) -> float:
    """Mean correlation with the other side's electrodes minus that with the own side's."""
    sides = {left: 0, right: 1}
    total, count = 0.0, 0
    for one, two in PAIRS:
        if one == left or not {one, two} <= set(names):
            continue
        for name, side in sides.items():
            own, other = (one, two) if side == 0 else (two, one)
            at = names.index(name)
            total += related[at, names.index(other)] - related[at, names.index(own)]
            count += 1
    return total / max(count, 1)
