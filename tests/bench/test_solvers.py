"""The head's solver in nested spheres: a closed form and a symmetric solver."""

import pytest

from aftersit.bench.solvers import sphere_table, template_table
from aftersit.electrodes import STANDARD_19
from aftersit.settings import load_settings


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
