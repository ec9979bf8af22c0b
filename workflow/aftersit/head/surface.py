"""Closed triangle meshes: areas, normals, rays, and places near or inside them."""

from dataclasses import dataclass

import numpy as np

CHUNK = 2000
"""Places taken at once, so that memory stays small."""
ON_EDGE = -1e-9
"""A ray through the edge of two triangles meets both."""


@dataclass(frozen=True)
class Surface:
    """A closed triangle mesh.

    Attributes
    ----------
    vertices_mm : ndarray, shape (n_vertices, 3)
        Surface RAS.
    triangles : ndarray of int, shape (n_triangles, 3)
        Seen from outside, counter-clockwise.
    """

    vertices_mm: np.ndarray
    triangles: np.ndarray


def distance_along(start: np.ndarray, direction: np.ndarray, surface: Surface) -> np.ndarray:
    """Distance from each start to where its ray first meets a surface.

    Moeller & Trumbore 1997, J Graphics Tools 2:21.

    Parameters
    ----------
    start, direction : ndarray, shape (n, 3)
        In mm, and of unit length.

    Returns
    -------
    ndarray, shape (n,)
        In mm; infinite where the ray meets nothing.
    """
    corner, edge1, edge2 = edges(surface)
    distances = np.full(len(start), np.inf)
    for i, (origin, ray) in enumerate(zip(start, direction, strict=True)):
        p = np.cross(ray, edge2)
        scale = 1 / np.sum(edge1 * p, axis=1)
        from_corner = origin - corner
        u = np.sum(from_corner * p, axis=1) * scale
        q = np.cross(from_corner, edge1)
        v = (q @ ray) * scale
        distance = np.sum(edge2 * q, axis=1) * scale
        hit = (u >= ON_EDGE) & (v >= ON_EDGE) & (u + v <= 1 - ON_EDGE) & (distance > 0)
        distances[i] = distance[hit].min(initial=np.inf)
    return distances


def edges(surface: Surface) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """First corner of each triangle and the ways to the two others; shape (n_triangles, 3)."""
    a, b, c = (surface.vertices_mm[corner] for corner in surface.triangles.T)
    return a, b - a, c - a


def vertex_areas(surface: Surface) -> np.ndarray:
    """Area of each vertex: a third of every triangle around it; mm^2."""
    _, edge1, edge2 = edges(surface)
    area = np.linalg.norm(np.cross(edge1, edge2), axis=1) / 2
    corners = surface.triangles.ravel()
    return np.bincount(corners, np.repeat(area / 3, 3), len(surface.vertices_mm))


def vertex_normals(surface: Surface) -> np.ndarray:
    """Direction outwards at each vertex: the mean over its triangles; unit length."""
    _, edge1, edge2 = edges(surface)
    normal = np.cross(edge1, edge2)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    total = np.zeros_like(surface.vertices_mm)
    for corner in surface.triangles.T:
        np.add.at(total, corner, normal)
    return total / np.linalg.norm(total, axis=1, keepdims=True)


def ray_share(place_mm: np.ndarray, middle_mm: np.ndarray, surface: Surface) -> np.ndarray:
    """Where each place lies on its ray from a middle to a surface: 0 there, 1 on the surface.

    With a triangle's corners a, b, c as seen from the middle, a place is la + mb + nc; its
    ray meets the triangle where no weight is negative, and its share is their sum.

    Parameters
    ----------
    place_mm : ndarray, shape (n, 3)
    middle_mm : ndarray, shape (3,)
        Inside the surface.
    surface : Surface
        Met once by each ray from the middle.

    Returns
    -------
    ndarray, shape (n,)
        0 where the ray meets nothing.
    """
    a, b, c = (surface.vertices_mm[corner] - middle_mm for corner in surface.triangles.T)
    sides = np.stack([np.cross(b, c), np.cross(c, a), np.cross(a, b)])
    sides /= np.sum(a * sides[0], axis=1)[:, None]
    total = sides.sum(axis=0)
    shares = []
    for part in np.array_split(place_mm - middle_mm, len(place_mm) // CHUNK + 1):
        least = np.min([side @ part.T for side in sides], axis=0)
        shares.append(np.where(least >= ON_EDGE, total @ part.T, 0.0).max(axis=0))
    return np.concatenate(shares)


def nearest_weights(place_mm: np.ndarray, surface: Surface) -> np.ndarray:
    """The point of a surface nearest to each place, as weights of the surface's vertices.

    It lies at the foot of the perpendicular to a triangle, or on one of its edges.

    Parameters
    ----------
    place_mm : ndarray, shape (n, 3)

    Returns
    -------
    ndarray, shape (n, n_vertices)
        Three at most differ from 0 in a row; a row's sum is 1.
    """
    corners = surface.vertices_mm[surface.triangles]
    weights = np.zeros((len(place_mm), len(surface.vertices_mm)))
    for row, place in zip(weights, place_mm, strict=True):
        inside = _foot(place, corners)
        along = [_foot_on_edge(place, corners, i) for i in range(3)]
        tried = np.stack([inside, *along])
        point = np.einsum("ktw,twd->ktd", tried, corners)
        distance = np.linalg.norm(point - place, axis=2)
        distance[0, (inside < 0).any(axis=1)] = np.inf
        way, triangle = np.unravel_index(distance.argmin(), distance.shape)
        row[surface.triangles[triangle]] = tried[way, triangle]
    return weights


def _foot(place: np.ndarray, corners: np.ndarray) -> np.ndarray:
    """Weights of each triangle's corners at the place's foot; outside, one is negative."""
    edge1, edge2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    to_place = place - corners[:, 0]
    normal = np.cross(edge1, edge2)
    size = np.sum(normal**2, axis=1)
    second = np.sum(np.cross(to_place, edge2) * normal, axis=1) / size
    third = np.sum(np.cross(edge1, to_place) * normal, axis=1) / size
    return np.stack([1 - second - third, second, third], axis=1)


def _foot_on_edge(place: np.ndarray, corners: np.ndarray, i: int) -> np.ndarray:
    """Weights at the nearest point of each triangle's i-th edge."""
    j = (i + 1) % 3
    edge = corners[:, j] - corners[:, i]
    share = np.sum((place - corners[:, i]) * edge, axis=1) / np.sum(edge**2, axis=1)
    weights = np.zeros((len(corners), 3))
    weights[:, j] = np.clip(share, 0, 1)
    weights[:, i] = 1 - weights[:, j]
    return weights
