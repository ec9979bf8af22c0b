"""Two simulated places, left and right: what region measures say of them."""

import numpy as np

from aftersit.bench.table import Table
from aftersit.head.cortex import even_cortex
from aftersit.head.measures import RegionMeasures
from aftersit.head.model import Head

PLACES = ("insula", "precentral", "superiortemporal", "lateraloccipital")
BACKGROUND_DB = -10.0


def two_sources_table(head: Head, measures: RegionMeasures, noise_share: float) -> Table:
    """Measures of left and right when both, or the left alone, are active.

    The sources of a region are active apart; behind them all cortex is, at a tenth of
    the power that the electrodes hear of the two.
    """
    cortex = even_cortex(head, measures.good, noise_share)
    rows = []
    for region in PLACES:
        left, right = (_covariance(head, region, side) for side in ("left", "right"))
        share = 10 ** (BACKGROUND_DB / 10) / np.trace(cortex.covariance)
        background = cortex.covariance * share * np.trace(left + right)
        for active, signal in (
            ("both", left + right),
            ("left alone", left),
            ("right alone", right),
        ):
            for kind in ("sloreta", "selective"):
                levels = {
                    side: np.sum(measures.matrix(f"{region}-{side}", kind) * (signal + background))
                    for side in ("left", "right")
                }
                loudest = _loudest(measures, kind, signal + background)
                rows.append(
                    {
                        "active": f"{region}, {active}",
                        "measure": kind,
                        "left_over_right_db": 10 * np.log10(levels["left"] / levels["right"]),
                        "highest three measures": ", ".join(loudest),
                    }
                )
    note = (
        "Power of each one-sided measure; the highest three of 68. True ratio: 0 dB for both up to "
        "the folds' asymmetry, and without bound for one alone."
    )
    return Table("two-sources", "Two places active at once, 19 electrodes", rows, (note,))


def _covariance(head: Head, region: str, side: str) -> np.ndarray:
    gain = head.gain[:, (head.region == region) & (head.hemisphere == side)]
    gain = gain - gain.mean(axis=0)
    return gain @ gain.T


def _loudest(measures: RegionMeasures, kind: str, covariance: np.ndarray) -> list[str]:
    levels = np.einsum("kij,ij->k", measures.of(kind).matrices, covariance)
    one_sided = [i for i, key in enumerate(measures.keys[: 34 * 3]) if not key.endswith("both")]
    order = sorted(one_sided, key=lambda i: -levels[i])[:3]
    return [measures.keys[i] for i in order]
