"""Potentials of dipoles in three nested layers, by the boundary element method.

Linear collocation with the isolated-skull approach (Haemaelaeinen & Sarvas 1989,
IEEE Trans Biomed Eng 36:165). mne solves the layers; how electrodes hear the sources
follows from that in matrix products here, because mne's own way takes as long again
and twice that for its check that the sources lie inside. Tests hold both alike.
"""

from itertools import pairwise
from typing import Literal

import numpy as np

from aftersit.errors import AftersitError
from aftersit.head.settings import Conductivity
from aftersit.head.surface import CHUNK, Surface, nearest_weights, ray_share
from aftersit.head.template import Layers


def solve_bem(
    layers: Layers,
    conductivity: Conductivity,
    position_mm: np.ndarray,
    electrode_mm: np.ndarray,
) -> np.ndarray:
    """Potential at each electrode for a unit dipole at each place, in three directions.

    Parameters
    ----------
    layers : Layers
    conductivity : Conductivity
    position_mm : ndarray, shape (n_sources, 3)
        Inside the inner skull.
    electrode_mm : ndarray, shape (n_electrodes, 3)
        Each is moved to the nearest point of the scalp.

    Returns
    -------
    ndarray, shape (n_electrodes, n_sources, 3)
        V/(A m), no reference taken, double precision.

    Raises
    ------
    AftersitError
        A source lies outside the inner skull.
    """
    _refuse_outside(position_mm, layers.inner_skull)
    solution = solved_layers(layers, conductivity)["solution"]
    scalp = nearest_weights(electrode_mm, layers.scalp)
    heard = scalp @ solution[: scalp.shape[1]]
    nodes_m = np.vstack([part.vertices_mm for part in outermost_first(layers)]) / 1e3
    return _summed(heard * _source_factors(layers, conductivity), nodes_m, position_mm / 1e3)


def _refuse_outside(position_mm: np.ndarray, inner_skull: Surface) -> None:
    middle_mm = inner_skull.vertices_mm.mean(axis=0)
    outside = np.sum(ray_share(position_mm, middle_mm, inner_skull) >= 1)
    if outside:
        raise AftersitError(f"{outside} sources lie outside the inner skull; check the surfaces")


def outermost_first(layers: Layers) -> tuple[Surface, Surface, Surface]:
    """The layers in the order in which mne solves them."""
    return layers.scalp, layers.outer_skull, layers.inner_skull


def _source_factors(layers: Layers, conductivity: Conductivity) -> np.ndarray:
    """What a dipole's potential in an unbounded medium counts for at each node, 1/(S/m).

    2 / (conductivity inside + conductivity outside), over 4 pi.
    """
    values = (0.0, conductivity.scalp, conductivity.skull, conductivity.brain)
    sizes = [len(surface.vertices_mm) for surface in outermost_first(layers)]
    return np.repeat([1 / (2 * np.pi * sum(pair)) for pair in pairwise(values)], sizes)


def _summed(heard: np.ndarray, nodes_m: np.ndarray, places_m: np.ndarray) -> np.ndarray:
    """Sum over nodes of what is heard of each times (node - place) / distance^3.

    Parameters
    ----------
    heard : ndarray, shape (n_electrodes, n_nodes)
    nodes_m : ndarray, shape (n_nodes, 3)
    places_m : ndarray, shape (n_sources, 3)

    Returns
    -------
    ndarray, shape (n_electrodes, n_sources, 3)
    """
    by_node = np.vstack([*(heard * axis for axis in nodes_m.T), heard])
    found = np.empty((len(heard), len(places_m), 3))
    for start in range(0, len(places_m), CHUNK):
        part = slice(start, start + CHUNK)
        place = places_m[part]
        square = np.sum(nodes_m**2, axis=1)[:, None] + np.sum(place**2, axis=1)
        square -= 2 * (nodes_m @ place.T)
        *at_nodes, all_nodes = np.split(by_node @ (1 / (square * np.sqrt(square))), 4)
        for axis, at_node in enumerate(at_nodes):
            found[:, part, axis] = at_node - all_nodes * place[:, axis]
    return found


def solved_layers(
    layers: Layers, conductivity: Conductivity, solver: Literal["mne", "openmeeg"] = "mne"
):
    """The layers solved by mne, as its `ConductorModel`.

    `make_bem_model` would check each time, for seconds, that they are closed and lie in one
    another: `read_layers` makes them so, and tests check it.

    Parameters
    ----------
    layers : Layers
    conductivity : Conductivity
    solver : {'mne', 'openmeeg'}
        The second is for checks only: the symmetric formulation (Gramfort et al. 2010,
        BioMed Eng OnLine 9:45), in a package that tests need and users don't.
    """
    import mne
    from mne.io.constants import FIFF

    kinds = (
        FIFF.FIFFV_BEM_SURF_ID_HEAD,
        FIFF.FIFFV_BEM_SURF_ID_SKULL,
        FIFF.FIFFV_BEM_SURF_ID_BRAIN,
    )
    inside_s_per_m = (conductivity.scalp, conductivity.skull, conductivity.brain)
    surfaces = map(_as_mne, outermost_first(layers), inside_s_per_m, kinds)
    return mne.make_bem_solution(list(surfaces), solver=solver, verbose="ERROR")


def _as_mne(surface: Surface, inside_s_per_m: float, kind: int) -> dict:
    """A boundary as mne holds it, in metres."""
    from mne.io.constants import FIFF

    return {
        "rr": surface.vertices_mm / 1e3,
        "tris": surface.triangles,
        "np": len(surface.vertices_mm),
        "ntri": len(surface.triangles),
        "id": kind,
        "sigma": inside_s_per_m,
        "coord_frame": FIFF.FIFFV_COORD_MRI,
    }
