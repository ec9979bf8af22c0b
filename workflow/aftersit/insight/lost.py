"""Why the cleaned replay does not give some reward of the uncleaned one.

Where cleaning has a bad span the answer is that. Elsewhere the condition that
fails is looked at in short windows: its distance to the threshold from the
uncleaned signal without the electrodes that were left out, without the removed
muscle, without the removed eyes, and as cleaned. What takes most of the distance
away is named. Each form is held against its own level in the baselines (the median of
all their windows, a simpler rule than the replays').
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from aftersit.blocks import Block
from aftersit.findings import LostReward
from aftersit.insight.elsewhere import window_powers
from aftersit.muscle.made_up import fast_part_kept
from aftersit.muscle.model import centre_hz
from aftersit.protocol import Condition, ElectrodePlace
from aftersit.quality import Quality
from aftersit.replay import logic
from aftersit.replay.conditions import electrode_matrix
from aftersit.replay.run import Signal
from aftersit.replay.timeline import BAD, GATED, NO_REWARD, UNKNOWN, WARM_UP, Timeline
from aftersit.sheet import Kind

Reason = Literal["muscle", "eyes", "electrode", "other", "bad-span", "gate", "timing"]
"""`other`: heart, mains, single electrodes, filters; `timing`: all conditions were met, but
not long enough."""

_FORMS = ("all", "good", "muscle", "eyes", "cleaned")
_BY_STATE: dict[int, Reason] = {
    BAD: "bad-span",
    UNKNOWN: "bad-span",
    WARM_UP: "timing",
    GATED: "gate",
}


@dataclass(frozen=True)
class Signals:
    """What both replays were made from.

    Attributes
    ----------
    uncleaned : Signal
    all_matrices, good_matrices : mapping
        Region measure -> matrix over all electrodes, and over the good ones.
    eye_below_hz : float
        Eyes were taken out below this only (`aftersit.clean.eyes`).
    """

    uncleaned: Signal
    quality: Quality
    all_matrices: Mapping[str, np.ndarray]
    good_matrices: Mapping[str, np.ndarray]
    eye_below_hz: float = np.inf


def lost_reward(
    cleaned: Timeline,
    uncleaned: Timeline,
    conditions: Sequence[Condition],
    blocks: Sequence[Block],
    signals: Signals,
    window_s: float,
) -> LostReward:
    """Seconds of lost reward by reason, in blocks that both replays score."""
    rows, gone = cleaned.lost_rows(uncleaned)
    lost, seconds = rows[gone], uncleaned.row_s
    reasons: dict[int, Reason] = {
        row: _BY_STATE[state]
        for row, state in zip(lost.tolist(), cleaned.state[lost].tolist(), strict=True)
        if state in _BY_STATE
    }
    open_gate = logic.gate(cleaned.met, cleaned.needed)
    decided = lost[cleaned.state[lost] == NO_REWARD]
    reasons |= dict.fromkeys(decided[open_gate[decided]].tolist(), "timing")
    failing = decided[~open_gate[decided]]
    if len(failing):
        which = _fallen_most(cleaned, uncleaned, failing)
        found = _explained(failing, which, cleaned, conditions, blocks, signals, window_s)
        reasons |= dict(zip(failing.tolist(), found, strict=True))
    by_reason: dict[str, float] = {}
    for row, reason in reasons.items():
        by_reason[reason] = by_reason.get(reason, 0.0) + float(seconds[row])
    return LostReward(
        lost_s=float(seconds[lost].sum()), by_reason_s=dict(sorted(by_reason.items()))
    )


def _fallen_most(cleaned: Timeline, uncleaned: Timeline, rows: np.ndarray) -> np.ndarray:
    """For each row the condition, met uncleaned and not cleaned, that fell furthest."""
    fall = np.array(
        [
            logic.distance_db(uncleaned.value[i, rows], uncleaned.threshold[i, rows], way)
            - logic.distance_db(cleaned.value[i, rows], cleaned.threshold[i, rows], way)
            for i, way in enumerate(cleaned.directions)
        ]
    )
    flipped = uncleaned.met[:, rows] & ~cleaned.met[:, rows]
    return np.argmax(np.where(flipped, fall, -np.inf), axis=0)


def _explained(
    rows: np.ndarray,
    which: np.ndarray,
    timeline: Timeline,
    conditions: Sequence[Condition],
    blocks: Sequence[Block],
    signals: Signals,
    window_s: float,
) -> list[Reason]:
    """What took most of the distance away from the chosen condition of each row."""
    if not signals.quality.keep:
        return ["other"] * len(rows)
    # A decision has seen the window that ends with it.
    length = round(window_s * signals.uncleaned.rate_hz)
    window = np.maximum(np.ceil(timeline.times_s[rows] / window_s).astype(int) - 1, 0)
    bases = _baseline_windows(blocks, window_s)
    needed = np.unique(np.concatenate([window, bases]))
    needed = needed[(needed + 1) * length <= signals.uncleaned.samples.shape[1]]
    levels = _levels_db(conditions, needed, length, signals)
    place = np.searchsorted(needed, window).clip(max=len(needed) - 1)
    of_base = np.isin(needed, bases)
    return [
        largest_fall(_distances(levels[c], of_base, conditions[c])[:, w])
        for c, w in zip(which.tolist(), place.tolist(), strict=True)
    ]


def _baseline_windows(blocks: Sequence[Block], window_s: float) -> np.ndarray:
    """Windows inside the baseline blocks."""
    spans = [(b.start_s / window_s, b.stop_s / window_s) for b in blocks if b.kind is Kind.BASELINE]
    inside = [np.arange(int(np.ceil(a)), int(b)) for a, b in spans]
    return np.concatenate([*inside, np.empty(0, dtype=int)]).astype(int)


def _levels_db(
    conditions: Sequence[Condition], windows: np.ndarray, length: int, signals: Signals
) -> np.ndarray:
    """Level of each condition in each form, shape (n_conditions, n_forms, n_windows), in dB."""
    # Cleaning takes out of each band something else.
    terms = [(c, band) for c in conditions for band in c.bands_hz]
    bands = list(dict.fromkeys(band for _, band in terms))
    matrices = np.concatenate([_forms(c, band, signals) for c, band in terms])
    signal = signals.uncleaned
    power = window_powers(
        signal.samples, signal.rate_hz, windows * length, length, bands, matrices
    ).reshape(len(terms), len(_FORMS), len(bands), -1)
    with np.errstate(divide="ignore", invalid="ignore"):
        db = {
            (c.name, band): 10 * np.log10(power[i, :, bands.index(band)])
            for i, (c, band) in enumerate(terms)
        }
        return np.array(
            [
                db[c.name, c.band_hz] - (db[c.name, c.relative_to_hz] if c.relative_to_hz else 0.0)
                for c in conditions
            ]
        )


def _forms(condition: Condition, band_hz: tuple[float, float], signals: Signals) -> np.ndarray:
    """Quadratic forms of a condition over all electrodes in one of its bands.

    Shape (n_forms, n_all, n_all). What cleaning did to a band follows its middle.
    """
    names, good = signals.uncleaned.names, signals.quality.good
    place = condition.where
    if isinstance(place, ElectrodePlace):
        over_all, over_good = (electrode_matrix(n, place.electrodes) for n in (names, good))
    else:
        over_all = signals.all_matrices[place.measure_key]
        over_good = signals.good_matrices[place.measure_key]
    chosen = _average(len(good)) @ np.array([[g == n for n in names] for g in good], dtype=float)
    whole = np.eye(len(good))
    found = signals.quality
    fast = fast_part_kept(found, band_hz)
    eyes, keep = _or_nothing(found.eyes, len(good)), np.array(found.keep)
    if centre_hz(band_hz) >= signals.eye_below_hz:
        keep, eyes = keep + eyes, np.zeros_like(eyes)
    keeps = [
        whole,
        fast @ (whole - _or_nothing(found.muscle, len(good))),
        whole - eyes,
        fast @ keep,
    ]
    seen = [keep @ chosen for keep in keeps]
    reference = _average(len(names))
    return np.stack([reference @ over_all @ reference, *(s.T @ over_good @ s for s in seen)])


def _average(n: int) -> np.ndarray:
    return np.eye(n) - 1 / n


def _or_nothing(matrix: Sequence[Sequence[float]], n: int) -> np.ndarray:
    return np.array(matrix) if len(matrix) else np.zeros((n, n))


def _distances(levels_db: np.ndarray, of_base: np.ndarray, condition: Condition) -> np.ndarray:
    """Distances to a threshold, up to what is alike in all forms, shape (n_forms, n_windows)."""
    base = 0.0
    if condition.rests_on_baseline and of_base.any():
        base = np.median(levels_db[:, of_base], axis=1, keepdims=True)
    return (levels_db - base) * (1 if condition.direction == "above" else -1)


def largest_fall(distance_db: np.ndarray) -> Reason:
    """What took most of a distance away; `other` where no form alone took any.

    Parameters
    ----------
    distance_db : ndarray, shape (n_forms,)
        In the order of `_FORMS`.
    """
    whole, good, no_muscle, no_eyes, cleaned = distance_db.tolist()
    falls: dict[Reason, float] = {
        "electrode": whole - good,
        "muscle": good - no_muscle,
        "eyes": good - no_eyes,
    }
    falls["other"] = whole - cleaned - sum(max(f, 0.0) for f in falls.values())
    reason = max(falls, key=falls.get)
    return reason if falls[reason] > 0 else "other"
