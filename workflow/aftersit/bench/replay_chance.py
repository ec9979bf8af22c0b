"""What chance gives: unrelated conditions, and the bivariate-normal joint rate."""

from collections.abc import Iterator

import numpy as np
from scipy import stats

from aftersit.bench.heads import LABEL
from aftersit.bench.replay_breaks import autocorrelated
from aftersit.bench.table import Table
from aftersit.insight.chance import chance
from aftersit.insight.playback import Playback
from aftersit.insight.settings import InsightSettings
from aftersit.settings import load_settings

SEED = 51200
SITTINGS, QUICK_SITTINGS = 300, 20
N = 4800
"""Decisions: ten minutes at eight a second."""
RATES = (0.7, 0.8)
CORRELATIONS = (0.0, 0.5, 0.9)
LONG = 200_000


def chance_tables(quick: bool) -> Iterator[Table]:
    """Excess on unrelated conditions, then joint rates under leakage."""
    yield _unrelated(QUICK_SITTINGS if quick else SITTINGS)
    yield _joint(LONG // 20 if quick else LONG)


def played(distance_db: np.ndarray) -> Playback:
    """Conditions that must all be met, in two blocks, rewarded at once."""
    n = distance_db.shape[1]
    halves = ((0, n // 2), (n // 2, n))
    return Playback(distance_db, halves, halves, np.arange(n), 0.125, len(distance_db), 0, 0)


def _unrelated(n_sittings: int) -> Table:
    settings = load_settings(LABEL).replay.insight
    rows = [_excess(phi, n_sittings, settings) for phi in (0.8, 0.95, 0.98)]
    return Table(
        "chance-unrelated",
        "Two conditions that have nothing to do with each other: excess over chance, points",
        rows,
        (
            f"{n_sittings} sittings of ten minutes a row, {settings.shifts} surrogates each; "
            f"AR(1) at eight values a second, met in 62 % of the time; seed {SEED}.",
        ),
    )


def _excess(phi: float, n_sittings: int, settings: InsightSettings) -> dict:
    rng = np.random.default_rng([SEED, round(100 * phi)])
    excess, p = [], []
    for _ in range(n_sittings):
        found = chance(played(autocorrelated(rng, phi, 2, N) + 0.3), None, None, settings, SEED)
        excess.append(100 * (found.together_share - found.unrelated.together_share))
        p.append(found.unrelated.p)
    return {
        "phi": phi,
        "mean_excess_points": round(float(np.mean(excess)), 2),
        "standard_error": round(float(np.std(excess) / np.sqrt(n_sittings)), 2),
        "spread_points": round(float(np.std(excess)), 1),
        "p_under_0.05_percent": round(100 * float(np.mean(np.array(p) <= 0.05)), 1),
    }


def _joint(n: int) -> Table:
    settings = load_settings(LABEL).replay.insight.model_copy(update={"shifts": 19})
    rng = np.random.default_rng([SEED, 7])
    noise = autocorrelated(rng, 0.5, 2, n)
    rows = []
    for rate in RATES:
        distance = noise - np.quantile(noise, 1 - rate, axis=1, keepdims=True)
        for r in CORRELATIONS:
            both = np.array([[1, r], [r, 1]])
            cut = stats.norm.ppf(rate)
            exact = float(stats.multivariate_normal([0, 0], both).cdf([cut, cut]))
            found = chance(played(distance), None, both, settings, SEED)
            ours = found.only_leakage.together_share
            rows.append(
                {
                    "each_met": rate,
                    "correlation": r,
                    "bivariate_normal": round(exact, 4),
                    "ours": round(ours, 4),
                    "difference": round(ours - exact, 4),
                }
            )
    return Table(
        "chance-joint",
        "Joint rate of two conditions related by leakage only, against the bivariate normal",
        rows,
        (f"{n} decisions, 19 surrogates; seed {SEED}.",),
    )
