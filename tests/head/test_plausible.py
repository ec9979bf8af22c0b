"""Heads that a client's could be: within their limits, and solved for what they are."""

import numpy as np
import pytest

from aftersit.head.model import template_electrodes
from aftersit.head.plausible import _draws, _misplaced, draw_heads, load_plausible, save_plausible


@pytest.fixture(scope="module")
def coarse(settings):
    """A mesh of 162 vertices, two heads and two placements."""
    few = settings.plausible.model_copy(update={"heads": 2, "placements": 2})
    return settings.model_copy(update={"mesh_level": 2, "plausible": few})


def test_each_range_is_spread_over_evenly(settings):
    """Latin hypercube: one draw in each of n equal parts (McKay, Beckman & Conover 1979)."""
    drawn = _draws(settings.plausible.model_copy(update={"heads": 8}), 4)
    limits = [np.log(pair) for pair in settings.plausible.ratios]
    for column, (low, high) in zip(np.log(drawn[:, :2]).T, limits, strict=True):
        parts = np.floor((column - low) / (high - low) * len(column))
        assert sorted(parts) == list(range(8))
    assert sorted(np.floor((drawn[:, 2] - 5.5) / 3.5 * 8)) == list(range(8))
    assert drawn[:, 4:].mean() == pytest.approx(1, abs=0.02)
    assert drawn[:, 4:].std() == pytest.approx(0.036, rel=0.25)


def test_electrodes_move_along_the_scalp_by_what_is_allowed():
    places = template_electrodes(("Fp1", "T7", "Cz", "P4", "O2", "F8", "C3"))
    moved = _misplaced(places, (5.0, 10.0), np.random.default_rng(3))
    way = moved - places
    assert ((np.linalg.norm(way, axis=1) > 5) & (np.linalg.norm(way, axis=1) < 10)).all()
    outward = places - places.mean(axis=0)
    np.testing.assert_allclose(np.sum(way * outward, axis=1), 0, atol=1e-9)


@pytest.mark.slow
def test_draws_differ_from_the_template_and_from_each_other(head, coarse):
    found = draw_heads(head, coarse, 9)
    assert found.drawn.shape == (4, 68, 19, 19)
    assert found.drawn_in_step.shape == (4, 68, 19)
    corner = [_alike(found.drawn[0], found.drawn[i]) for i in (1, 2, 3)]
    template = [_alike(found.template, one) for one in found.drawn]
    assert 0.9 < max(corner) < 0.9999
    assert 0.8 < min(template) < max(template) < 0.9999


def _alike(one, other) -> float:
    """Median over regions of the correlation of two covariances after average reference."""
    centre = np.eye(19) - 1 / 19
    pairs = zip(centre @ one @ centre, centre @ other @ centre, strict=True)
    return float(np.median([np.corrcoef(a.ravel(), b.ravel())[0, 1] for a, b in pairs]))


@pytest.mark.slow
def test_two_draws_of_one_seed_are_the_same_bytes(head, coarse, tmp_path):
    for name in ("one.npz", "two.npz"):
        save_plausible(draw_heads(head, coarse, 9), tmp_path / name)
    assert (tmp_path / "one.npz").read_bytes() == (tmp_path / "two.npz").read_bytes()
    assert load_plausible(tmp_path / "one.npz").names == head.names
