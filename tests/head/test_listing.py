"""The list of regions."""

import numpy as np
import pytest

from aftersit.head.atlas import half_keys
from aftersit.head.listing import COLUMNS, regions_table


@pytest.fixture(scope="module")
def table(head, measures):
    return regions_table(head, measures).set_index("key")


def test_every_measure_has_one_row(table):
    assert ["key", *table.columns] == COLUMNS
    assert len(table) == 3 * (34 + 10)
    assert table.loc["anterior-cingulate-both", "title"] == "anterior cingulate"
    assert table.loc["bankssts-left", "title"] == "banks of the superior temporal sulcus"


def test_halves_tile_the_cortex(table, head):
    halves = table.loc[list(half_keys())]
    assert halves["cortex_share"].sum() == pytest.approx(1)
    assert halves["area_mm2"].sum() == pytest.approx(head.area_mm2.sum())
    assert table.loc["insula-right", "cortex_share"] == pytest.approx(322 / 18426)


def test_centres_lie_on_their_side(table):
    """Right is positive in MNI305; between two sides there is no centre."""
    assert (table[table["hemisphere"] == "right"]["x_mm"] > 4).all()
    assert (table[table["hemisphere"] == "left"]["x_mm"] < -4).all()
    assert table[table["hemisphere"] == "both"][["x_mm", "y_mm", "z_mm"]].isna().all(axis=None)
    np.testing.assert_allclose(
        table.loc["insula-right", ["x_mm", "y_mm", "z_mm"]].astype(float), [37, -1.5, 0.5], atol=1
    )


def test_measures_are_purer_than_chance_for_most_regions(table):
    """A measure that hears everything alike is as pure as its region is large."""
    for kind in ("purity", "selective_purity"):
        assert (table[kind] > table["cortex_share"]).mean() > 0.9
    assert (table["limit"] > table["cortex_share"]).mean() > 0.9
