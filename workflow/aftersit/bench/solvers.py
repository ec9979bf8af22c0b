"""The head's solver against a closed form, another library's sphere and another solver."""

from itertools import pairwise

import numpy as np

from aftersit.bench.library import electrodes_at, solve_by_library
from aftersit.bench.sphere import Shells, sphere_potential
from aftersit.bench.table import Table
from aftersit.head.model import Head, template_electrodes
from aftersit.head.settings import HeadSettings
from aftersit.head.solver import solve_bem
from aftersit.head.template import read_layers, read_whole_inner_skull

SHELLS = Shells((80.0, 87.5, 92.0), (0.3, 0.006, 0.3))
"""As thick as the template's layers are at the vault; conductivities of the settings."""
DEPTHS_MM = (2.5, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0, 45.0)
"""Below the inner skull."""
MIDDLE_MM = (0.0, -20.0, 10.0)
"""Of the template's head, roughly."""
SEED = 20260419
LIMITS = (
    "RDM: norm of the difference of maps of norm 1, 0 best and 2 worst; MAG: ratio of norms, 1 "
    "best (Meijs et al. 1989, IEEE Trans Biomed Eng 36:1038; Gramfort et al. 2010, BioMed Eng "
    "OnLine 9:45). Usual acceptance: RDM below 0.1, MAG 0.9-1.1 (common practice). The library "
    "whose solver is used grants itself r > 0.98 (RDM < 0.2) and 45 % between two solvers."
)


def rdm(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Topography error of each column, average reference."""
    one, other = (_centred(part) for part in (one, other))
    units = (part / np.linalg.norm(part, axis=0) for part in (one, other))
    return np.linalg.norm(np.subtract(*units), axis=0)


def mag(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Magnitude of each column over the other's, average reference."""
    one, other = (np.linalg.norm(_centred(part), axis=0) for part in (one, other))
    return one / other


def _centred(potential: np.ndarray) -> np.ndarray:
    return potential - potential.mean(axis=0)


def error_row(ours: np.ndarray, theirs: np.ndarray) -> dict[str, float]:
    """Medians and tails of both errors over columns."""
    topography, magnitude = rdm(ours, theirs), mag(ours, theirs)
    return {
        "n": len(topography),
        "rdm_median": np.median(topography),
        "rdm_p95": np.percentile(topography, 95),
        "mag_median": np.median(magnitude),
        "mag_p5": np.percentile(magnitude, 5),
        "mag_p95": np.percentile(magnitude, 95),
    }


def sphere_table(settings: HeadSettings, names: tuple[str, ...], n: int) -> Table:
    """Errors in nested spheres meshed as finely as the template, by depth.

    Parameters
    ----------
    settings : HeadSettings
    names : tuple of str
        Electrodes, projected onto the outer sphere.
    n : int
        Sources at each depth.
    """
    rows = []
    for direction, pairs in _solved(settings, names, n).items():
        for what, (one, other) in pairs.items():
            for i, depth_mm in enumerate(DEPTHS_MM):
                at = slice(i * n, (i + 1) * n)
                row = {"what": what, "direction": direction, "depth_mm": depth_mm}
                rows.append(row | error_row(one[:, at], other[:, at]))
    note = (
        f"{len(names)} electrodes on spheres of {SHELLS.radius_mm} mm and "
        f"{SHELLS.conductivity_s_per_m} S/m, meshed as finely as the template; seed {SEED}. "
        f"Closed form: Zhang 1995. Second solver: openmeeg. {LIMITS}"
    )
    return Table("sphere", "Errors of the solver in nested spheres, by depth", rows, (note,))


def _solved(settings: HeadSettings, names: tuple[str, ...], n: int) -> dict[str, dict[str, tuple]]:
    """Direction of the sources -> what is compared -> two potentials."""
    electrode_mm = _on_sphere(names)
    position_mm, *moments = _sources(n)
    layers = SHELLS.layers(settings.mesh_level)
    case = (layers, SHELLS.conductivity, position_mm, electrode_mm)
    free = (solve_bem(*case), solve_by_library(*case, "openmeeg"))
    found = {}
    for direction, moment in zip(("radial", "tangential"), moments, strict=True):
        ours, second = (np.einsum("esd,sd->es", one, moment) for one in free)
        exact = sphere_potential(SHELLS, position_mm, moment, electrode_mm)
        library = _library_sphere(position_mm, moment, electrode_mm)
        found[direction] = {
            "ours, against the closed form": (ours, exact),
            "ours, against the library's sphere": (ours, library),
            "ours, against the second solver": (ours, second),
            "the second solver, against the closed form": (second, exact),
            "the library's sphere, against the closed form": (library, exact),
        }
    return found


def _on_sphere(names: tuple[str, ...]) -> np.ndarray:
    """Electrodes of the template, moved onto the sphere along their rays from its middle."""
    place = template_electrodes(names) - MIDDLE_MM
    return place / np.linalg.norm(place, axis=1, keepdims=True) * SHELLS.radius_mm[-1]


def _sources(n: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places in the upper three quarters of the sphere, radial and tangential directions."""
    rng = np.random.default_rng(SEED)
    way = rng.normal(size=(4 * n, 3))
    way = way[way[:, 2] > -0.5 * np.linalg.norm(way, axis=1)][:n]
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    radial = np.tile(way, (len(DEPTHS_MM), 1))
    radius = SHELLS.radius_mm[0] - np.repeat(DEPTHS_MM, n)
    across = np.cross(radial, rng.normal(size=radial.shape))
    return radial * radius[:, None], radial, across / np.linalg.norm(across, axis=1, keepdims=True)


def _library_sphere(
    position_mm: np.ndarray, moment: np.ndarray, electrode_mm: np.ndarray
) -> np.ndarray:
    """The sphere model of mne: dipoles in a homogeneous sphere fitted to the shells."""
    import mne

    outer = SHELLS.radius_mm[-1]
    info = electrodes_at(electrode_mm)
    with mne.utils.use_log_level("ERROR"):
        sphere = mne.make_sphere_model(
            (0, 0, 0),
            outer / 1e3,
            relative_radii=[radius / outer for radius in SHELLS.radius_mm],
            sigmas=SHELLS.conductivity_s_per_m,
        )
        space = mne.setup_volume_source_space(pos={"rr": position_mm / 1e3, "nn": moment})
        forward = mne.make_forward_solution(info, None, space, sphere, meg=False, mindist=0.0)
    free = forward["sol"]["data"].reshape(len(electrode_mm), -1, 3)
    return np.einsum("esd,sd->es", free, moment)


DEPTH_EDGES_MM = (0.0, 5.0, 10.0, 15.0, 20.0, 30.0, 45.0, 90.0)


def template_table(head: Head, settings: HeadSettings, n: int) -> Table:
    """The template's own surfaces: our solver against the second one, by depth."""
    depth = source_depth_mm(head)
    chosen = np.sort(np.random.default_rng(SEED).choice(len(depth), n, replace=False))
    free = solve_by_library(
        read_layers(settings),
        settings.conductivity_s_per_m,
        head.position_mm[chosen],
        head.electrode_mm,
        "openmeeg",
    )
    second = np.einsum("esd,sd->es", free, head.normal[chosen])
    rows = []
    for low, high in pairwise(DEPTH_EDGES_MM):
        at = (depth[chosen] >= low) & (depth[chosen] < high)
        share = np.mean((depth >= low) & (depth < high))
        row = {"from_mm": low, "to_mm": high, "cortex_share": share}
        if at.any():
            row |= error_row(head.gain[:, chosen][:, at], second[:, at])
        rows.append(row)
    whole = {"from_mm": 0.0, "to_mm": np.inf, "cortex_share": 1.0}
    rows.append(whole | error_row(head.gain[:, chosen], second))
    note = f"{len(head.names)} electrodes, {n} cortical sources along their normals. {LIMITS}"
    title = "Our solver against openmeeg on the template's surfaces, by depth below the inner skull"
    return Table("template", title, rows, (note,))


def source_depth_mm(head: Head) -> np.ndarray:
    """Distance of each source from the nearest vertex of the inner skull, finely meshed."""
    from scipy.spatial import cKDTree

    return cKDTree(read_whole_inner_skull().vertices_mm).query(head.position_mm)[0]
