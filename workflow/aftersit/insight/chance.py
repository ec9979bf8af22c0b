"""What the conditions would have given together by chance.

*Unrelated*: each condition's times of being met are shifted in a circle within
each block, by another random step for each, which keeps how often and how long
it is met and breaks when. Steps shorter than `shift_min_s` either way are left
out, since the signal still knows itself then.

*Leakage only*: measures that hear the same places move together although no two
sources do. The shifted distances, as normal scores, are mixed to the correlations
that leakage alone gives; each condition is met as often as it was.

*In the baseline*: the same thresholds over the baseline block, where nobody
practised yet: what flickers through is no achievement.
"""

from collections.abc import Sequence

import numpy as np
from scipy import special, stats
from scipy.linalg import block_diag

from aftersit.findings import Chance, Expected, InBaseline
from aftersit.head.leakage import shared_power
from aftersit.insight.playback import Playback
from aftersit.insight.settings import InsightSettings
from aftersit.protocol import Condition


def chance(
    played: Playback,
    baseline: InBaseline | None,
    leakage: np.ndarray | None,
    settings: InsightSettings,
    seed: int,
) -> Chance:
    """What was, and what chance would have given.

    Parameters
    ----------
    played : Playback
        The scored blocks.
    leakage : ndarray, shape (n_conditions, n_conditions), or None
        Correlation of the conditions' measures that leakage alone produces.
    """
    count = played.met.sum(axis=0)
    rewarded = played.rewarded(count)
    together = float((count >= played.needed).mean()) if count.size else None
    shifts = _shifts(played, settings, seed) if len(played.met) > 1 else None
    unrelated = only_leakage = None
    if shifts is not None:
        unrelated = _expected(played, _shifted(played.met, played, shifts), together)
        if leakage is not None:
            only_leakage = _expected(played, _leaking(played, shifts, leakage), together)
    return Chance(
        reward_share=float(rewarded.mean()) if count.size else None,
        longest_bout_s=float(played.longest_s(rewarded)) if count.size else None,
        together_share=together,
        unrelated=unrelated,
        only_leakage=only_leakage,
        baseline=baseline,
    )


def _shifts(played: Playback, settings: InsightSettings, seed: int) -> np.ndarray | None:
    """Steps for each surrogate, condition and block; None where a block is too short."""
    least = int(np.ceil(settings.shift_min_s / played.update_s))
    lengths = np.array([b - a for a, b in played.blocks])
    if not len(lengths) or lengths.min() < 4 * least:
        return None
    rng = np.random.default_rng(seed)
    shape = (settings.shifts, len(played.met), len(lengths))
    steps = np.zeros(shape, dtype=int)
    for k in range(1, shape[1]):
        steps[:, k] = _apart(rng, steps[:, :k], lengths, least)
    return steps


def _apart(
    rng: np.random.Generator, taken: np.ndarray, lengths: np.ndarray, least: int
) -> np.ndarray:
    """Steps at least `least` away from all that are taken, where that is possible."""
    steps = rng.integers(least, lengths - least + 1, size=(len(taken), len(lengths)))
    for _ in range(20):
        away = np.abs(steps[:, np.newaxis] - taken)
        close = (np.minimum(away, lengths - away) < least).any(axis=1)
        if not close.any():
            break
        steps[close] = rng.integers(least, lengths - least + 1, size=steps.shape)[close]
    return steps


def _shifted(values: np.ndarray, played: Playback, shifts: np.ndarray) -> np.ndarray:
    """Values of each condition shifted within blocks, shape (n_shifts, n_conditions, n)."""
    shifted = np.empty((len(shifts), *values.shape), dtype=values.dtype)
    for number, (a, b) in enumerate(played.blocks):
        twice = np.concatenate([values[:, a:b]] * 2, axis=1)
        for s, steps in enumerate(shifts[:, :, number].tolist()):
            for i, step in enumerate(steps):
                shifted[s, i, a:b] = twice[i, step : step + b - a]
    return shifted


def _leaking(played: Playback, shifts: np.ndarray, leakage: np.ndarray) -> np.ndarray:
    """Whether conditions are met in surrogates that are related by leakage only."""
    scores = np.empty(played.distance_db.shape, dtype=np.float32)
    for a, b in played.blocks:
        ranks = stats.rankdata(played.distance_db[:, a:b], axis=1)
        scores[:, a:b] = special.ndtri((ranks - 0.5) / (b - a))
    values, vectors = np.linalg.eigh(leakage)
    root = (vectors * np.sqrt(np.clip(values, 0, None))) @ vectors.T
    root /= np.linalg.norm(root, axis=1, keepdims=True)  # scores keep their size
    mixed = root.astype(np.float32) @ _shifted(scores, played, shifts)
    met = np.empty(mixed.shape, dtype=bool)
    for a, b in played.blocks:
        limit = -special.ndtri(played.met[:, a:b].mean(axis=1)).astype(np.float32)
        met[..., a:b] = mixed[..., a:b] > limit[:, np.newaxis]
    return met


def _expected(played: Playback, met: np.ndarray, together: float) -> Expected:
    count = met.sum(axis=1)
    rewarded = played.rewarded(count)
    joint, share = (count >= played.needed).mean(axis=1), rewarded.mean(axis=1)
    longest = played.longest_s(rewarded)
    low, high = np.quantile(joint, (0.025, 0.975))
    return Expected(
        reward_share=float(share.mean()),
        longest_bout_s=float(longest.mean()),
        longest_high_s=float(np.quantile(longest, 0.95)),
        together_share=float(joint.mean()),
        together_low=float(low),
        together_high=float(high),
        p=float((1 + (joint >= together).sum()) / (1 + len(joint))),
    )


def leakage_between(
    conditions: Sequence[Condition],
    matrices: Sequence[Sequence[np.ndarray]],
    covariance: np.ndarray,
) -> np.ndarray:
    """Correlation of distances that leakage alone gives, shape (n_conditions, n_conditions).

    Parameters
    ----------
    matrices : sequence of sequences of ndarray, each of shape (n_electrodes, n_electrodes)
        Of each condition, for each of its `bands_hz`: what is heard of the covariance there.
    covariance : ndarray, shape (n_electrodes, n_electrodes)
        Of the cortex at the electrodes, before cleaning.

    Notes
    -----
    Powers of other frequencies are independent, so that of bands that overlap in part
    their common part counts: width over the product of both widths (even spectrum).
    Relative power is a difference of two logarithms. Turning a condition round (below)
    turns the sign.
    """
    bands = np.array([band for c in conditions for band in c.bands_hz])
    width = bands[:, 1] - bands[:, 0]
    common = np.minimum.outer(bands[:, 1], bands[:, 1]) - np.maximum.outer(bands[:, 0], bands[:, 0])
    shared = np.clip(common, 0, None) / np.outer(width, width)
    stacked = np.stack([matrix for own in matrices for matrix in own])
    terms = _terms(conditions)
    found = terms @ (shared_power(stacked, covariance) * shared) @ terms.T
    spread = np.sqrt(np.diag(found))
    return found / np.outer(spread, spread)


def _terms(conditions: Sequence[Condition]) -> np.ndarray:
    """How each condition's distance adds up from its bands, shape (n_conditions, n_bands)."""
    rows = [np.array([1.0, -1.0])[: len(c.bands_hz)] for c in conditions]
    signs = [1 if c.direction == "above" else -1 for c in conditions]
    return block_diag(*(sign * row for sign, row in zip(signs, rows, strict=True)))
