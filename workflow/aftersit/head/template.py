"""The template head's surfaces, from the data that packages carry; nothing is fetched.

Scalp and inner skull are mne's fsaverage surfaces; the cortex is nilearn's
fsaverage5 mesh. Everything is in fsaverage's surface coordinates (surface RAS),
which for this subject are MNI305: right, front, up.

No package carries the outer skull. It is laid between the two: from each vertex
of the inner skull outwards, away from the inner skull's centre, `skull_share` of
the way to the scalp, and at most `skull_max_mm`. All three layers have the
vertices of one subdivided icosahedron, so that they nest along every ray; mne
refuses layers that do not.
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from aftersit.head.atlas import package_file
from aftersit.head.settings import HeadSettings
from aftersit.head.surface import Surface, distance_along


@dataclass(frozen=True)
class Layers:
    """The three boundaries of the head model."""

    inner_skull: Surface
    outer_skull: Surface
    scalp: Surface

    def scaled(self, factors: np.ndarray) -> "Layers":
        """With the three axes times their factors; a mirrored mesh still faces outwards."""
        turned = slice(None, None, -1 if np.prod(factors) < 0 else 1)
        parts = (self.inner_skull, self.outer_skull, self.scalp)
        return Layers(*(Surface(p.vertices_mm * factors, p.triangles[:, turned]) for p in parts))


def trans_file() -> Path:
    """Where the transform from head to surface coordinates lies."""
    return package_file("mne", "data", "fsaverage", "fsaverage-trans.fif")


def read_layers(settings: HeadSettings) -> Layers:
    """The three boundaries; see the module's description for the rule."""
    triangles = icosphere_triangles(settings.mesh_level)
    inner, scalp = _read_bem("inner_skull-bem"), _read_bem("head")
    start = inner.vertices_mm[: triangles.max() + 1]
    outwards = start - inner.vertices_mm.mean(axis=0)
    outwards /= np.linalg.norm(outwards, axis=1, keepdims=True)
    gap = distance_along(start, outwards, scalp)[:, None]
    skull = np.minimum(gap * settings.skull_share, settings.skull_max_mm)
    return Layers(
        Surface(start, triangles),
        Surface(start + skull * outwards, triangles),
        Surface(start + gap * outwards, triangles),
    )


def read_whole_inner_skull() -> Surface:
    """The packaged inner skull with all of its vertices."""
    return _read_bem("inner_skull-bem")


def _read_bem(name: str) -> Surface:
    import mne

    path = package_file("mne", "data", "fsaverage", f"fsaverage-{name}.fif")
    (surface,) = mne.read_bem_surfaces(path, verbose="ERROR")
    return Surface(surface["rr"] * 1e3, surface["tris"].astype(int))


def icosphere_triangles(level: int) -> np.ndarray:
    """Triangles of a subdivided icosahedron in FreeSurfer's order of vertices.

    Each subdivision keeps the vertices before it, so the first 10 * 4^level + 2
    vertices of the fsaverage5 sphere are those of a coarser one, and their convex
    hull is its mesh.

    Returns
    -------
    ndarray of int, shape (20 * 4^level, 3)
    """
    from scipy.spatial import ConvexHull

    sphere = read_mesh("sphere", "left").vertices_mm[: 10 * 4**level + 2]
    hull = ConvexHull(sphere).simplices
    a, b, c = (sphere[corner] for corner in hull.T)
    inwards = np.sum(np.cross(b - a, c - a) * a, axis=1) < 0
    hull[inwards] = hull[inwards][:, ::-1]
    first = hull.argmin(axis=1)[:, None]
    hull = np.take_along_axis(hull, (first + np.arange(3)) % 3, axis=1)
    return hull[np.lexsort(hull.T[::-1])]


def read_mesh(name: str, hemisphere: str) -> Surface:
    """One of nilearn's fsaverage5 meshes: `white`, `pial`, `infl`, `sphere`."""
    import nibabel

    path = package_file("nilearn", "datasets", "data", "fsaverage5", f"{name}_{hemisphere}.gii.gz")
    vertices, triangles = nibabel.load(path).darrays
    return Surface(vertices.data.astype(float), triangles.data.astype(int))


def read_cortex(hemisphere: str, where: str) -> Surface:
    """The sheet of sources of one side, on white matter or halfway to the pia."""
    white = read_mesh("white", hemisphere)
    if where == "white":
        return white
    pial = read_mesh("pial", hemisphere)
    return Surface((white.vertices_mm + pial.vertices_mm) / 2, white.triangles)
