"""How far a contrast between blocks can be off because the client's head is not the template.

The activity of every region changes between two blocks, each by its own amount. A
measure made for the template shows one contrast when the head is the template and
another when it is not; the spread is the root mean square of the difference, over
all drawn heads and many patterns of change. It is found twice, with the sources of
a region active apart and in step, and the larger is kept.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.head.plausible import PlausibleHeads
from aftersit.head.region_set import RegionSet

PATTERNS = 400
DOUBLED = 2.0


@dataclass(frozen=True)
class Sureness:
    """What head-model error does to measures of one kind; nan where it is not known.

    Attributes
    ----------
    spread_db : ndarray, shape (n_keys,)
        Root mean square error of a contrast between blocks.
    contrast_db : ndarray, shape (n_keys,)
        Root mean square of the contrast itself, in the same patterns.
    doubled_db : ndarray, shape (n_keys, 3)
        Contrast when the region's own activity doubles (3 dB) and nothing else changes:
        in the template, and the lowest and highest in the drawn heads.
    """

    spread_db: np.ndarray
    contrast_db: np.ndarray
    doubled_db: np.ndarray


def not_known(n_keys: int) -> Sureness:
    """When no heads were drawn."""
    nothing = np.full(n_keys, np.nan)
    return Sureness(nothing, nothing, np.full((n_keys, 3), np.nan))


def sureness(
    matrices: np.ndarray,
    good: Sequence[str],
    regions: RegionSet,
    heads: PlausibleHeads,
    change_sd_db: float,
    seed: int,
) -> Sureness:
    """What head-model error does to the measures of all of the regions' keys.

    Parameters
    ----------
    matrices : ndarray, shape (n_keys, n_good, n_good)
        Made for the template; rows add up to zero, so any reference serves.
    good : sequence of str
        Their electrodes.
    regions : RegionSet
    heads : PlausibleHeads
    change_sd_db : float
        Standard deviation of the regions' own changes.
    seed : int
        Of the patterns of change.
    """
    rows = [heads.names.index(name) for name in good]
    apart = [_apart(matrices, part, rows) for part in (heads.template[None], heads.drawn)]
    in_step = [
        _in_step(matrices, part, rows)
        for part in (heads.template_in_step[None], heads.drawn_in_step)
    ]
    rng = np.random.default_rng(seed)
    changes = 10 ** (rng.normal(scale=change_sd_db, size=(apart[0].shape[-1], PATTERNS)) / 10)
    spreads, contrasts = zip(*(_spread(*pair, changes) for pair in (apart, in_step)), strict=True)
    worst = np.argmax(spreads, axis=0)[None]
    return Sureness(
        spread_db=np.take_along_axis(np.stack(spreads), worst, axis=0)[0],
        contrast_db=np.take_along_axis(np.stack(contrasts), worst, axis=0)[0],
        doubled_db=_doubled(*apart, regions),
    )


def _spread(
    template: np.ndarray, drawn: np.ndarray, changes: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Error of the contrast, and the contrast, in dB."""
    right, wrong = (10 * np.log10(part @ changes) for part in (template, drawn))
    return _rms(wrong - right), _rms(right)


def _rms(values: np.ndarray) -> np.ndarray:
    return np.sqrt(np.mean(values**2, axis=(0, 2)))


def _doubled(template: np.ndarray, drawn: np.ndarray, regions: RegionSet) -> np.ndarray:
    own = np.stack([regions.halves(key) for key in regions.keys])
    here, there = (
        10 * np.log10(1 + (DOUBLED - 1) * np.sum(part * own, axis=-1)) for part in (template, drawn)
    )
    return np.stack([here[0], there.min(axis=0), there.max(axis=0)], axis=1)


def _apart(matrices: np.ndarray, halves: np.ndarray, rows: list[int]) -> np.ndarray:
    """Part of each measure that each region and side gives, shape (n_heads, n_keys, 68)."""
    chosen = halves[:, :, rows][:, :, :, rows].reshape(*halves.shape[:2], -1)
    heard = matrices.reshape(len(matrices), -1) @ chosen.transpose(0, 2, 1)
    return heard / heard.sum(axis=-1, keepdims=True)


def _in_step(matrices: np.ndarray, potential: np.ndarray, rows: list[int]) -> np.ndarray:
    """The same when the sources of a region and side are active in step."""
    return _apart(matrices, potential[:, :, :, None] * potential[:, :, None, :], rows)
