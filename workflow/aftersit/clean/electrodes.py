"""Bad electrodes, each with its reason and the figures behind it."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from aftersit.clean import apart, spans, wiring
from aftersit.clean.settings import ElectrodeSettings
from aftersit.clean.windows import in_both_windows, typical_covariance
from aftersit.quality import Electrode, ElectrodeReason

N_SLOW = 4
"""The first bands, together 1-20 Hz."""
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
    bad_blocks : ndarray of bool, shape (n_recorded, n_blocks)
        Half seconds in which a recorded electrode was bad for a while.
    """

    names: tuple[str, ...]
    reasons: dict[str, list[ElectrodeReason]] = field(default_factory=dict)
    evidence: dict[str, dict[str, float]] = field(default_factory=dict)
    bad_blocks: np.ndarray | None = None

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
class Measures:
    """What electrodes are judged by; rows and columns are the electrodes that were recorded.

    Attributes
    ----------
    names : tuple of str
        Recorded electrodes, in the montage's order.
    bands : ndarray, shape (n_bands, n_windows, n_electrodes, n_electrodes)
        Window covariances in the bands, rising, uV^2.
    drift_uv : ndarray, shape (n_spans, n_electrodes)
        Standard deviation below the high-pass in 5 s.
    usable : ndarray of bool, shape (n_windows,)
        Windows free of gross events.
    still : ndarray of bool, shape (n_windows, n_electrodes)
        Windows that hold a constant run of this electrode.
    constant_share : ndarray, shape (n_electrodes,)
        Part of the sitting in constant runs of this electrode alone.
    """

    names: tuple[str, ...]
    bands: np.ndarray
    drift_uv: np.ndarray
    usable: np.ndarray
    still: np.ndarray
    constant_share: np.ndarray

    @cached_property
    def slow(self) -> np.ndarray:
        """Window covariances of 1-20 Hz."""
        return self.bands[:N_SLOW].sum(axis=0)

    def typical(self, rows: np.ndarray) -> np.ndarray:
        """Typical covariance of some electrodes in each band."""
        return np.stack([typical_covariance(_of(band, rows)[self.usable]) for band in self.bands])


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
    _flat(found, measures, settings)
    _drifting(found, measures, settings)
    return found


def judge_together(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Add those that are bad beside the others: noisy, unrelated.

    The worst electrode goes first and the others are judged anew without it,
    since a bad electrode spoils the reference and the predictions of all
    (Bigdely-Shamlo et al. 2015, Front Neuroinform 9:16).
    """
    while len(found.good) > FEWEST and _drop_worst(found, measures, settings):
        pass


def judge_wiring(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Add those that hear another place than their name says: bridged, swapped, unrelated."""
    if len(found.good) > FEWEST:
        _bridged(found, measures, settings)
        _miswired(found, measures, settings)


def _rows(found: Findings, measures: Measures) -> np.ndarray:
    return np.array([measures.names.index(name) for name in found.good], int)


def _flat(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    size = np.sqrt(np.diagonal(measures.slow, axis1=1, axis2=2))
    still = (size < settings.flat_uv).mean(axis=0)
    for name, uv, share, constant in zip(
        measures.names, np.median(size, axis=0), still, measures.constant_share, strict=True
    ):
        if share > settings.bad_share or constant > settings.bad_share:
            found.add(name, "flat", amplitude_uv=uv, flat_share=share, constant_share=constant)


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
    slow = apart.Band.of(_of(measures.slow, rows), measures.usable)
    bands = [apart.Band.of(_of(band, rows), measures.usable) for band in measures.bands]
    score = apart.score(bands)
    share = _noisy(bands, slow, settings)[measures.usable].mean(axis=0)
    bad = (score > settings.apart) | (share > settings.bad_share) | _unrelated(slow, settings)
    if not bad.any():
        return False
    worst = int(np.argmax(np.where(bad, score + share, -np.inf)))
    # What is bad for part of the time only is noise, and so is what is loud in all bands.
    loud = score[worst] <= settings.apart or apart.factor(bands)[worst] > 1
    found.add(
        measures.names[rows[worst]],
        "noisy" if loud else "unrelated",
        bad_share=share[worst],
        apart=score[worst],
        unexplained_share=slow.typical_share[worst],
        factor=apart.factor(bands)[worst],
    )
    return True


def bad_awhile(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Mark the half seconds in which a good electrode is bad for a while."""
    n_windows, n_electrodes = measures.slow.shape[:2]
    found.bad_blocks = np.zeros((n_electrodes, n_windows + 1), bool)
    if len(found.good) <= FEWEST:
        return
    rows = _rows(found, measures)
    bands = [apart.Band.of(_of(band, rows), measures.usable) for band in measures.bands]
    rest_uv = apart.Band.of(_of(measures.slow, rows), measures.usable).rest_uv
    loud = rest_uv > settings.awhile_factor * np.median(rest_uv[measures.usable], axis=0)
    score = np.where(loud & ~measures.still[:, rows], apart.window_score(bands), -np.inf).T
    strong = in_both_windows(score > settings.apart_awhile)
    found.bad_blocks[rows] = spans.grown(strong, in_both_windows(score > settings.apart_edge))


def _noisy(bands: list[apart.Band], slow: apart.Band, settings: ElectrodeSettings) -> np.ndarray:
    """Windows in which an electrode is noisy."""
    noisy = slow.bad(settings.noisy_factor, settings.noisy_unexplained)
    noisy |= apart.window_score(bands) > settings.apart_often
    return noisy | bands[-1].bad(settings.fast_factor, settings.fast_unexplained)


def _unrelated(slow: apart.Band, settings: ElectrodeSettings) -> np.ndarray:
    """Electrodes that the others know nothing of, and that are not just quiet."""
    unknown = slow.typical_share > 1 - settings.unrelated_correlation**2
    return unknown & (slow.typical_factor > settings.unrelated_factor)


def _of(covariances: np.ndarray, rows: np.ndarray) -> np.ndarray:
    return covariances[:, rows[:, None], rows]


def _bridged(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Two electrodes with the same signal: gel between them. The later one goes.

    Difference of the pair against that of all pairs, after the electrical
    distance of Tenke and Kayser 2001, Clin Neurophysiol 112:545 (from memory).
    """
    rows = _rows(found, measures)
    slow = _of(measures.slow[measures.usable], rows)
    power = np.diagonal(slow, axis1=1, axis2=2)
    squares = power[:, :, None] + power[:, None, :] - 2 * slow
    difference = np.sqrt(np.maximum(np.median(squares, axis=0), 0))
    upper = np.triu_indices(len(rows), 1)
    limit = min(settings.bridged_uv, settings.bridged_share * np.median(difference[upper]))
    for one, two in zip(*upper, strict=True):
        first, second = measures.names[rows[one]], measures.names[rows[two]]
        if difference[one, two] < limit and not {first, second} & set(found.reasons):
            found.note(first, bridge_difference_uv=difference[one, two])
            found.add(second, "bridged", bridge_difference_uv=difference[one, two])


def _miswired(found: Findings, measures: Measures, settings: ElectrodeSettings) -> None:
    """Left and right exchanged, and electrodes that hear another place than theirs."""
    names = found.good
    typical = measures.typical(_rows(found, measures))
    swapped = wiring.swapped_pairs(typical, names, settings.swap_margin)
    for name, fit in swapped.items():
        found.add(name, "swapped", pair_fit=fit)
    for name, fit in zip(names, wiring.fit_to_place(typical, names), strict=True):
        if not swapped and fit < settings.place_fit:
            found.add(name, "unrelated", place_fit=fit)
