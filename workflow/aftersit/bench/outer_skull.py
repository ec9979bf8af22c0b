"""How much the outer skull, which no package carries, can change."""

import numpy as np

from aftersit.bench.solvers import error_row
from aftersit.bench.table import Table
from aftersit.head.cortex import even_cortex
from aftersit.head.hearing import purities
from aftersit.head.model import Head, build_head
from aftersit.head.region_set import shipped_regions
from aftersit.head.regions import sloreta_matrices
from aftersit.head.settings import HeadSettings

RULES = (
    (0.625, 8.0),
    (0.5, 8.0),
    (0.75, 8.0),
    (0.625, 6.0),
    (0.625, 11.0),
    (0.5, 6.0),
    (0.75, 11.0),
)
"""Share of the way from inner skull to scalp, and limit in mm; the first is the settings'."""


def outer_skull_table(head: Head, settings: HeadSettings, quick: bool) -> Table:
    """Other rules for the outer skull: topographies and purities against the settings' rule."""
    regions = shipped_regions()
    ours = _purities(head, head, settings)
    rows = []
    for share, most_mm in RULES[1:2] if quick else RULES[1:]:
        rule = {"skull_share": share, "skull_max_mm": most_mm}
        other = build_head(settings.model_copy(update=rule), head.names)
        seen = _purities(head, other, settings)
        rows.append(
            rule
            | error_row(other.gain, head.gain)
            | {
                "purity_change_median": np.median(np.abs(seen / ours - 1)),
                "purity_change_largest": np.max(np.abs(seen / ours - 1)),
            }
        )
    note = (
        f"Against {settings.skull_share:g} of the way and at most {settings.skull_max_mm:g} mm. "
        f"Purity of the {len(regions.keys)} sLORETA measures as made with the settings' rule, "
        "when the head follows the other rule; changes are relative."
    )
    title = "What other outer skulls do to topographies and purities"
    return Table("outer-skull", title, rows, (note,))


def _purities(made_for: Head, real: Head, settings: HeadSettings) -> np.ndarray:
    regions = shipped_regions()
    matrices = sloreta_matrices(made_for, made_for.names, regions.keys, settings, regions)
    cortex = even_cortex(real, real.names, settings.limit_noise_share)
    return purities(matrices, regions.keys, regions, cortex)
