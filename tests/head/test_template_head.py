"""The template's surfaces: nested, closed, and built by the documented rule."""

import mne
import numpy as np
import pytest

from aftersit.head.atlas import read_labels, region_titles
from aftersit.head.surface import Surface, distance_along
from aftersit.head.template import icosphere_triangles, read_cortex, read_layers, read_mesh


@pytest.fixture(scope="module")
def layers(settings):
    return read_layers(settings)


def solid_angle(point: np.ndarray, surface: Surface) -> float:
    """Over 4 pi: 1 inside, 0 outside (van Oosterom & Strackee 1983, IEEE TBME 30:125)."""
    a, b, c = (surface.vertices_mm[k] - point for k in surface.triangles.T)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    numerator = np.einsum("ij,ij->i", a, np.cross(b, c))
    denominator = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (a * c).sum(1) * lb
    return np.arctan2(numerator, denominator).sum() / (2 * np.pi)


@pytest.mark.parametrize("level", [2, 3, 4])
def test_icosphere_is_closed_and_faces_outwards(level):
    """Euler: vertices - edges + faces = 2."""
    triangles = icosphere_triangles(level)
    edges = np.sort(triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    _, uses = np.unique(edges, axis=0, return_counts=True)
    assert len(triangles) == 20 * 4**level
    assert (uses == 2).all()
    assert 10 * 4**level + 2 - len(uses) + len(triangles) == 2
    sphere = Surface(read_mesh("sphere", "left").vertices_mm, triangles)
    assert solid_angle(np.array([12.0, -30.0, 5.0]), sphere) == pytest.approx(1)


def test_finest_icosphere_is_the_template_mesh_itself():
    """fsaverage5 is the icosahedron's fifth subdivision: the same triangles."""
    ours, theirs = icosphere_triangles(5), read_mesh("sphere", "left").triangles
    assert {frozenset(t) for t in ours.tolist()} == {frozenset(t) for t in theirs.tolist()}


@pytest.mark.parametrize("which", [0, 1])
def test_layers_nest_for_the_thinnest_and_the_thickest_skull(settings, which):
    drawn = settings.plausible
    rule = {"skull_max_mm": drawn.skull_mm[which], "skull_share": drawn.skull_share[which]}
    assert_nested(read_layers(settings.model_copy(update=rule)))


def test_layers_nest(layers):
    assert_nested(layers)


def assert_nested(layers):
    pairs = [(layers.inner_skull, layers.outer_skull), (layers.outer_skull, layers.scalp)]
    for inner, outer in pairs:
        inside = [solid_angle(point, outer) for point in inner.vertices_mm[::3]]
        np.testing.assert_allclose(inside, 1, atol=1e-6)


def test_outer_skull_follows_its_rule(layers, settings):
    skull = np.linalg.norm(layers.outer_skull.vertices_mm - layers.inner_skull.vertices_mm, axis=1)
    gap = np.linalg.norm(layers.scalp.vertices_mm - layers.inner_skull.vertices_mm, axis=1)
    np.testing.assert_allclose(skull, np.minimum(0.625 * gap, 8.0), rtol=1e-9)
    assert (settings.skull_share, settings.skull_max_mm) == (0.625, 8)
    assert 3.5 < skull.min() < 5
    assert (skull < 8).sum() > 100


def test_scalp_vertices_lie_on_the_packaged_scalp(layers):
    packaged = mne.read_bem_surfaces(
        mne.__path__[0] + "/data/fsaverage/fsaverage-head.fif", verbose="ERROR"
    )[0]
    scalp = Surface(packaged["rr"] * 1e3, packaged["tris"].astype(int))
    normal = packaged["tri_nn"] if "tri_nn" in packaged else _normals(scalp)
    corner = scalp.vertices_mm[scalp.triangles[:, 0]]
    for point in layers.scalp.vertices_mm[::40]:
        assert np.abs(np.sum((point - corner) * normal, axis=1)).min() < 1e-6


def _normals(surface: Surface) -> np.ndarray:
    a, b, c = (surface.vertices_mm[k] for k in surface.triangles.T)
    normal = np.cross(b - a, c - a)
    return normal / np.linalg.norm(normal, axis=1, keepdims=True)


def test_cortex_lies_inside_the_inner_skull(layers, settings):
    for side in ("left", "right"):
        cortex = read_cortex(side, settings.cortex_surface).vertices_mm
        inside = [solid_angle(point, layers.inner_skull) for point in cortex[::40]]
        np.testing.assert_allclose(inside, 1, atol=1e-6)


def test_ray_that_meets_nothing_is_infinite():
    sphere = read_mesh("sphere", "right")
    distance = distance_along(np.array([[150.0, 0, 0]]), np.array([[1.0, 0.2, 0.1]]), sphere)
    assert np.isinf(distance).all()


def test_labels_cover_all_regions_and_leave_the_medial_wall_out():
    """Vertex counts as stored in the atlas file for the left side of fsaverage5."""
    labels = read_labels("left")
    counts = dict(zip(*np.unique(labels, return_counts=True), strict=True))
    assert (counts["insula"], counts["precuneus"], counts["frontalpole"]) == (329, 460, 18)
    assert counts[""] == 1038
    assert set(counts) - {""} == set(region_titles())
