"""Potentials by matrix products: mne's own numbers, and places that it can't take."""

import numpy as np
import pytest

from aftersit.bench.library import solve_by_library
from aftersit.bench.solvers import SHELLS
from aftersit.errors import AftersitError
from aftersit.head.solver import solve_bem
from aftersit.head.surface import nearest_weights, ray_share

LAYERS = SHELLS.layers(2)


@pytest.fixture(scope="module")
def case():
    """Electrodes beside the scalp, over faces, an edge and a vertex; dipoles at two depths."""
    rng = np.random.default_rng(31)
    scalp = LAYERS.scalp.vertices_mm
    way = rng.normal(size=(12, 3))
    near = way / np.linalg.norm(way, axis=1, keepdims=True) * rng.uniform(86, 99, (12, 1))
    on_edge = scalp[LAYERS.scalp.triangles[7, :2]].mean(axis=0)
    electrodes = np.vstack([near, scalp[5] * 1.04, on_edge * 1.02])
    way = rng.normal(size=(40, 3))
    depth = np.repeat([25.0, 12.0], 20)
    return electrodes, way / np.linalg.norm(way, axis=1, keepdims=True) * (80 - depth)[:, None]


def test_equal_to_the_forward_solution_of_mne(case):
    electrodes, places = case
    ours = solve_bem(LAYERS, SHELLS.conductivity, places, electrodes)
    theirs = solve_by_library(LAYERS, SHELLS.conductivity, places, electrodes, "mne")
    assert ours.shape == (14, 40, 3)
    # Over a vertex or an edge mne takes the foot on a triangle's plane, outside that triangle.
    over_faces = slice(12)
    np.testing.assert_allclose(
        ours[over_faces], theirs[over_faces], rtol=1e-9, atol=1e-9 * np.abs(theirs).max()
    )
    np.testing.assert_allclose(ours, theirs, atol=0.02 * np.abs(theirs).max())


def test_source_outside_the_inner_skull_is_refused(case):
    electrodes, places = case
    with pytest.raises(AftersitError, match="3 sources lie outside the inner skull"):
        solve_bem(LAYERS, SHELLS.conductivity, np.vstack([places, places[:3] * 1.5]), electrodes)


def test_share_of_a_ray_tells_inside_from_outside():
    """On the mesh itself it is 1, wherever the middle lies; along a ray it grows in proportion."""
    sphere, rng = LAYERS.inner_skull, np.random.default_rng(4)
    middle = np.array([9.0, -14.0, 21.0])
    weights = rng.dirichlet(np.ones(3), size=len(sphere.triangles))
    on_mesh = np.einsum("tw,twd->td", weights, sphere.vertices_mm[sphere.triangles])
    for share in (0.2, 0.97, 1.03, 1.6):
        places = middle + share * (on_mesh - middle)
        np.testing.assert_allclose(ray_share(places, middle, sphere), share, rtol=1e-9)


def test_nearest_point_of_a_sphere_lies_on_the_ray_to_it(case):
    """A chord of this mesh lies up to 3.4 mm below the sphere."""
    electrodes, _ = case
    weights = nearest_weights(electrodes, LAYERS.scalp)
    point = weights @ LAYERS.scalp.vertices_mm
    np.testing.assert_allclose(weights.sum(axis=1), 1, rtol=1e-12)
    assert ((weights > 0).sum(axis=1) <= 3).all()
    assert (weights >= 0).all()
    radius = np.linalg.norm(point, axis=1)
    assert ((radius > 92 - 3.4) & (radius < 92 + 1e-9)).all()
    away = np.linalg.norm(point - electrodes, axis=1)
    gap = np.abs(np.linalg.norm(electrodes, axis=1) - radius)
    assert (away < gap + 2).all()
    np.testing.assert_allclose(point[12], LAYERS.scalp.vertices_mm[5])
