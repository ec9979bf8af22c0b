"""The list of regions: what each is, where it lies and how pure its measure is."""

import numpy as np
import pandas as pd

from aftersit.head.measures import RegionMeasures
from aftersit.head.model import Head

COLUMNS = [
    *("key", "region", "title", "hemisphere", "area_mm2", "cortex_share"),
    *("x_mm", "y_mm", "z_mm", "limit", "purity", "coverage", "noise_gain_db"),
    *("selective_purity", "selective_coverage", "selective_noise_gain_db"),
    *("other_side_db", "neighbours"),
]


def regions_table(head: Head, measures: RegionMeasures) -> pd.DataFrame:
    """One row for each region measure.

    Parameters
    ----------
    head : Head
    measures : RegionMeasures
        Of the electrodes that the list is about.

    Returns
    -------
    DataFrame
        Columns `COLUMNS`. Area is that of the template's sheet of sources;
        `cortex_share` is the region's part of all sources, and so the purity of a
        measure that hears everything alike. The centre is the sources' mean position in
        MNI305 (missing for both sides together: it would lie between them); for
        a folded region it can lie off the cortex. `purity` to `noise_gain_db`, `other_side_db`
        and the neighbours with their shares are those of the sLORETA measure.
    """
    return pd.DataFrame([_row(head, measures, key) for key in measures.keys], columns=COLUMNS)


def _row(head: Head, measures: RegionMeasures, key: str) -> dict:
    region, side = measures.regions.split(key)
    inside = measures.regions.members(key, head.region, head.hemisphere)
    plain, chosen = measures.heard(key), measures.heard(key, "selective")
    return {
        "key": key,
        "region": region,
        "title": measures.regions.title(key),
        "hemisphere": side,
        "area_mm2": head.area_mm2[inside].sum(),
        "cortex_share": inside.mean(),
        **_centre(head, inside, side),
        "limit": plain.limit,
        "purity": plain.purity,
        "coverage": plain.coverage,
        "noise_gain_db": plain.noise_gain_db,
        "selective_purity": chosen.purity,
        "selective_coverage": chosen.coverage,
        "selective_noise_gain_db": chosen.noise_gain_db,
        "other_side_db": plain.other_side_db,
        "neighbours": "; ".join(f"{name} {share:.3f}" for name, share in plain.neighbours),
    }


def _centre(head: Head, inside: np.ndarray, side: str) -> dict[str, float]:
    centre = np.average(head.position_mm[inside], axis=0, weights=head.area_mm2[inside])
    return dict(
        zip(("x_mm", "y_mm", "z_mm"), centre if side != "both" else [np.nan] * 3, strict=True)
    )
