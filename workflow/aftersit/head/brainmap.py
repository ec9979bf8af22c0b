"""A region on the template brain, and where its measure really comes from.

Both hemispheres, inflated so that folds are seen: left from outside, left and
right at the midline, right from outside. The region is outlined. Where the cortex
is darkest, half of the measure comes from when all cortex is equally active; the
next steps add up to 80 and 95 %. The picture holds no words: pages say in theirs
what the steps are, from `LEVELS` and `VIEWS`.
"""

import io
from dataclasses import dataclass

import numpy as np

from aftersit.head.atlas import HEMISPHERES
from aftersit.head.model import Head
from aftersit.head.surface import Surface
from aftersit.head.template import read_mesh

LEVELS = (0.5, 0.8, 0.95)
"""Parts of the measure that the darkest step, the two and the three darkest give."""
COLOURS = ("#00224e", "#5f646e", "#d9c46a", "#f3f4f2")
"""Dark to light along cividis, made to be read alike with and without colour-blindness
(Nunez, Anderton & Renslow 2018, PLoS ONE 13:e0199239); the last for all the rest."""
MEDIAL_WALL = "#ffffff"
OUTLINE = (("#1b2433", 2.4), ("#ffffff", 1.0))
"""Ink under white, so that it is seen on every step; colour and width in points."""
SMOOTHING_ROUNDS = 6
"""Means over neighbours, about 14 mm wide: folds change a source's share from one
vertex to the next, which no reader can see."""
DPI = 150
SHADES = 64
WIDTH_IN, HEIGHT_IN = 7.0, 1.55


@dataclass(frozen=True)
class View:
    """One side of one hemisphere."""

    hemisphere: str
    name: str
    towards_eye: float
    """Sign of x in the eye's direction."""


VIEWS = (
    View("left", "left, outside", -1.0),
    View("left", "left, midline", 1.0),
    View("right", "right, midline", -1.0),
    View("right", "right, outside", 1.0),
)


def source_shares(head: Head, matrix: np.ndarray) -> np.ndarray:
    """Part of a measure that each source gives when all are equally active.

    Parameters
    ----------
    head : Head
        With the electrodes of the matrix and no others.
    matrix : ndarray, shape (n_electrodes, n_electrodes)
        Of the region measure, made for the average reference.

    Returns
    -------
    ndarray, shape (n_sources,)
        Adds up to 1; its sum over the region is the region's purity, but for the noise
        that purity counts in.
    """
    power = np.sum(head.gain * (matrix @ head.gain), axis=0)
    return power / power.sum()


def brain_map(head: Head, inside: np.ndarray, shares: np.ndarray) -> bytes:
    """Draw where a measure comes from, with its region outlined.

    Parameters
    ----------
    head : Head
    inside : ndarray of bool, shape (n_sources,)
        The region that is outlined: `RegionSet.members`.
    shares : ndarray, shape (n_sources,)
        See `source_shares`.

    Returns
    -------
    bytes
        PNG; the same input gives the same bytes.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    steps = _steps(_smoothed(head, shares))
    figure = Figure(figsize=(WIDTH_IN, HEIGHT_IN), dpi=DPI)
    for place, view in enumerate(VIEWS):
        axes = figure.add_axes((place / len(VIEWS) + 0.004, 0.01, 1 / len(VIEWS) - 0.008, 0.98))
        _draw(axes, head, view, inside, steps)
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    return _png(np.asarray(canvas.buffer_rgba()))


def _png(pixels: np.ndarray) -> bytes:
    """As PNG with few colours, a quarter of the bytes; there are hardly more in the picture."""
    from PIL import Image

    few = Image.fromarray(pixels).convert("RGB").quantize(SHADES, dither=Image.Dither.NONE)
    buffer = io.BytesIO()
    few.save(buffer, "png", optimize=True)
    return buffer.getvalue()


def _smoothed(head: Head, values: np.ndarray) -> np.ndarray:
    smooth = np.empty_like(values)
    for hemisphere in HEMISPHERES:
        side = head.hemisphere == hemisphere
        mean = _neighbour_mean(read_mesh("white", hemisphere), head.vertex[side])
        part = values[side]
        for _ in range(SMOOTHING_ROUNDS):
            part = mean @ part
        smooth[side] = part
    return smooth


def _neighbour_mean(mesh: Surface, kept: np.ndarray):
    """Sparse matrix that gives each kept vertex the mean of itself and its neighbours."""
    from scipy.sparse import coo_array, diags_array, eye_array

    n = len(mesh.vertices_mm)
    edges = mesh.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    beside = coo_array((np.ones(len(edges)), edges.T), shape=(n, n)).tocsr()
    beside = ((beside + beside.T) > 0).astype(float) + eye_array(n, format="csr")
    beside = beside.tocsr()[kept][:, kept]
    return diags_array(1 / beside.sum(axis=1)) @ beside


def _steps(shares: np.ndarray) -> np.ndarray:
    """Step of each source, 0 the darkest: by what it and all stronger ones give together."""
    order = np.argsort(-shares, kind="stable")
    steps = np.empty(len(shares), int)
    steps[order] = np.searchsorted(LEVELS, np.cumsum(shares[order]) / shares.sum())
    return steps


def _draw(axes, head: Head, view: View, inside: np.ndarray, steps: np.ndarray) -> None:
    mesh = read_mesh("infl", view.hemisphere)
    side = head.hemisphere == view.hemisphere
    step_of, in_region = (np.full(len(mesh.vertices_mm), fill) for fill in (-1, 0))
    step_of[head.vertex[side]] = steps[side]
    in_region[head.vertex[side]] = inside[side]
    points, triangles, facing = _project(mesh, view)
    _fill(axes, points, triangles, _colours(step_of[triangles], facing))
    _outline(axes, points, triangles[in_region[triangles].all(axis=1)])
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.autoscale_view()


def _project(mesh: Surface, view: View) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Points on the page; the triangles that face the eye, from far to near; how much they do."""
    x, y, z = mesh.vertices_mm.T
    corners = mesh.vertices_mm[mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facing = normal[:, 0] * view.towards_eye / np.linalg.norm(normal, axis=1)
    depth = x[mesh.triangles].mean(axis=1) * view.towards_eye
    order = np.argsort(depth, kind="stable")
    order = order[facing[order] > 0]
    return np.c_[y * view.towards_eye, z], mesh.triangles[order], facing[order]


def _colours(steps: np.ndarray, facing: np.ndarray) -> np.ndarray:
    """Colour of each triangle from the middle one of its corners' steps."""
    from matplotlib.colors import to_rgb

    palette = np.array([to_rgb(colour) for colour in (*COLOURS, MEDIAL_WALL)])
    # Light from the eye rounds the form; too weak to be taken for a step.
    return palette[np.median(steps, axis=1).astype(int)] * (0.84 + 0.16 * facing[:, None])


def _fill(axes, points: np.ndarray, triangles: np.ndarray, colours: np.ndarray) -> None:
    from matplotlib.collections import PolyCollection

    axes.add_collection(
        PolyCollection(points[triangles], facecolors=colours, edgecolors=colours, linewidths=0.3)
    )


def _outline(axes, points: np.ndarray, triangles: np.ndarray) -> None:
    """Draw the edges that only one of the region's triangles has."""
    from matplotlib.collections import LineCollection

    edges = np.sort(triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
    border, uses = np.unique(edges, axis=0, return_counts=True)
    for colour, width in OUTLINE:
        axes.add_collection(
            LineCollection(points[border[uses == 1]], colors=colour, linewidths=width)
        )
