"""What region measures hear with 19 and with 64 electrodes."""

import numpy as np

from aftersit.bench.table import Table
from aftersit.head.measures import MeasureKind, RegionMeasures

KINDS: tuple[MeasureKind, ...] = ("sloreta", "selective")


def hearing_table(name: str, measures: RegionMeasures) -> Table:
    """Purity, limit, coverage, selective measure and neighbours of every region."""
    rows = [_row(measures, key) for key in measures.keys]
    note = (
        "All cortex equally active. Shares of power in percent, noise gain and separability in dB. "
        "Coverage: effective part of the region's area. The list is of both sides of each region "
        "and each side; its unions end it."
    )
    title = f"What region measures hear, {name} electrodes"
    return Table(f"hearing-{name}", title, rows, (note,))


def _row(measures: RegionMeasures, key: str) -> dict:
    plain, chosen = measures.heard(key), measures.heard(key, "selective")
    near = [f"{name} {100 * share:.0f}" for name, share in plain.neighbours]
    return {
        "key": key,
        "limit": 100 * plain.limit,
        "purity": 100 * plain.purity,
        "coverage": 100 * plain.coverage,
        "noise_db": plain.noise_gain_db,
        "side_db": plain.other_side_db,
        "sel_purity": 100 * chosen.purity,
        "sel_coverage": 100 * chosen.coverage,
        "sel_noise_db": chosen.noise_gain_db,
        "sel_side_db": chosen.other_side_db,
        "error_db": plain.contrast_spread_db,
        "sel_error_db": chosen.contrast_spread_db,
        "neighbours": ", ".join(near),
    }


def summary_table(found: dict[str, RegionMeasures]) -> Table:
    """Medians and extremes over the 68 one-sided regions of the atlas."""
    rows = []
    for name, measures in found.items():
        half = np.array([not key.endswith("both") for key in measures.keys])[: 34 * 3]
        for kind in KINDS:
            of = measures.of(kind)
            columns = {
                "purity": of.purity,
                "purity over limit": of.purity / measures.limit,
                "coverage": of.coverage,
                "noise gain, dB": of.noise_gain_db,
                "own side over other, dB": of.other_side_db,
                "contrast error, dB": measures.sureness(kind).spread_db,
            }
            rows += [
                {"electrodes": name, "measure": kind, "what": what}
                | _spread(values[: 34 * 3][half])
                for what, values in columns.items()
            ]
    return Table("summary", "Over the atlas's 68 regions, each of one side", rows)


def _spread(values: np.ndarray) -> dict[str, float]:
    low, median, high = np.percentile(values, [10, 50, 90])
    return {
        "lowest": values.min(),
        "p10": low,
        "median": median,
        "p90": high,
        "highest": values.max(),
    }


def curve_table(measures: RegionMeasures, keys: tuple[str, ...]) -> Table:
    """The trade of purity against coverage for some regions."""
    rows = []
    for key in keys:
        i, curve = measures.index(key), measures.curve
        for point, price in enumerate(curve.price):
            rows.append(
                {
                    "key": key,
                    "price": price,
                    "purity": 100 * curve.purity[i, point],
                    "coverage": 100 * curve.coverage[i, point],
                    "noise_db": curve.noise_gain_db[i, point],
                }
            )
    note = "From even to pure; the selective measure is the purest that covers enough."
    return Table("curve", "Purity against coverage (percent), 19 electrodes", rows, (note,))
