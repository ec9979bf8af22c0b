"""The list of regions: what each is, where it lies and how pure its measure is."""

import numpy as np
import pandas as pd

from aftersit.head.atlas import members, region_titles, split_key
from aftersit.head.model import Head
from aftersit.head.regions import RegionMeasures

COLUMNS = [
    *("key", "region", "title", "hemisphere", "area_mm2", "cortex_share"),
    *("x_mm", "y_mm", "z_mm", "purity", "limit", "neighbour", "neighbour_share"),
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
        a folded region it can lie off the cortex. `neighbour` is the other
        region that weighs most.
    """
    return pd.DataFrame([_row(head, measures, key) for key in measures.keys], columns=COLUMNS)


def _row(head: Head, measures: RegionMeasures, key: str) -> dict:
    region, side = split_key(key)
    inside = members(key, head.region, head.hemisphere)
    area = head.area_mm2[inside]
    centre = np.average(head.position_mm[inside], axis=0, weights=area)
    (neighbour, share), i = measures.nearest(key)[0], measures.index(key)
    return {
        "key": key,
        "region": region,
        "title": region_titles()[region],
        "hemisphere": side,
        "area_mm2": area.sum(),
        "cortex_share": inside.mean(),
        **dict(
            zip(("x_mm", "y_mm", "z_mm"), centre if side != "both" else [np.nan] * 3, strict=True)
        ),
        "purity": measures.purity[i],
        "limit": measures.limit[i],
        "neighbour": neighbour,
        "neighbour_share": share,
    }
