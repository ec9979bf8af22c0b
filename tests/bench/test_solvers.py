"""The head's solver in nested spheres: a closed form, a symmetric solver, exact properties."""

import numpy as np
import pytest

from aftersit.bench.solvers import SHELLS, sphere_table, template_table
from aftersit.electrodes import STANDARD_19
from aftersit.errors import AftersitError
from aftersit.head.solver import solve_bem
from aftersit.settings import load_settings

DEEP_MM, SHALLOW_MM = 25.0, 12.0


@pytest.fixture(scope="module")
def case():
    """Twelve electrodes; dipoles at two depths, at random places."""
    rng = np.random.default_rng(31)
    electrodes = rng.normal(size=(12, 3))
    electrodes *= 92 / np.linalg.norm(electrodes, axis=1, keepdims=True)
    way = rng.normal(size=(20, 3))
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    depth = np.repeat([DEEP_MM, SHALLOW_MM], 10)
    return electrodes, way * (80 - depth)[:, None], rng.normal(size=(20, 3))


@pytest.mark.slow
def test_source_outside_the_inner_skull_is_refused(case):
    electrodes, places, _ = case
    with pytest.raises(AftersitError, match="3 sources lie outside the inner skull"):
        solve_bem(
            SHELLS.layers(2),
            SHELLS.conductivity,
            np.vstack([places, places[:3] * 1.5]),
            electrodes,
        )


@pytest.mark.slow
def test_sphere_within_limits_by_depth():
    """RDM < 0.1 and MAG 0.9-1.1 from 7.5 mm on, against the closed form and openmeeg."""
    settings = load_settings("s1").head
    rows = sphere_table(settings, STANDARD_19, 20).frame
    ours = rows[rows["what"].str.startswith("ours") & (rows["depth_mm"] >= 7.5)]
    assert set(ours["what"].str.split("against the ").str[1]) == {
        "closed form",
        "library's sphere",
        "second solver",
    }
    assert ours["rdm_p95"].max() < 0.1
    assert ours["mag_median"].between(0.9, 1.1).all()
    second = rows[rows["what"] == "the second solver, against the closed form"]
    assert second.query("depth_mm >= 7.5")["rdm_p95"].max() < 0.025


@pytest.mark.slow
def test_template_within_limits_by_depth(head):
    """The library grants itself r > 0.98 (RDM < 0.2) and 45 % between these two solvers."""
    rows = template_table(head, load_settings("s1").head, 400).frame
    deep = rows[(rows["from_mm"] >= 5) & (rows["n"] > 10)]
    assert deep["rdm_median"].max() < 0.1
    assert deep["mag_median"].between(0.55, 1.45).all()
    assert rows["rdm_median"].iloc[-1] < 0.1
