"""Potentials of dipoles in three nested layers, by the boundary element method.

Linear collocation with the isolated-skull approach (Haemaelaeinen & Sarvas 1989,
IEEE Trans Biomed Eng 36:165), as implemented in mne. mne's own frames are not
used: everything is in the coordinates of the surfaces.
"""

from typing import Literal

import numpy as np

from aftersit.errors import AftersitError
from aftersit.head.settings import Conductivity
from aftersit.head.template import Layers, Surface


def solve_bem(
    layers: Layers,
    conductivity: Conductivity,
    position_mm: np.ndarray,
    electrode_mm: np.ndarray,
    solver: Literal["mne", "openmeeg"] = "mne",
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
    solver : {'mne', 'openmeeg'}
        The second is for checks only: the symmetric formulation (Gramfort et al. 2010,
        BioMed Eng OnLine 9:45), in a package that tests need and users don't.

    Returns
    -------
    ndarray, shape (n_electrodes, n_sources, 3)
        V/(A m), no reference taken, double precision.

    Raises
    ------
    AftersitError
        A source lies outside the inner skull.
    """
    import mne

    nearest = np.broadcast_to([0.0, 0.0, 1.0], position_mm.shape)
    with mne.utils.use_log_level("ERROR"):
        space = mne.setup_volume_source_space(pos={"rr": position_mm / 1e3, "nn": nearest})
        forward = mne.make_forward_solution(
            _electrodes(electrode_mm),
            None,
            space,
            _solution(layers, conductivity, solver),
            meg=False,
            mindist=0.0,
        )
    if forward["nsource"] < len(position_mm):
        outside = len(position_mm) - forward["nsource"]
        raise AftersitError(f"{outside} sources lie outside the inner skull; check the surfaces")
    return forward["sol"]["data"].astype(float).reshape(len(electrode_mm), -1, 3)


def _solution(layers: Layers, conductivity: Conductivity, solver: str):
    """The solved layers.

    `make_bem_model` would check each time, for seconds, that they are closed and lie in one
    another: `read_layers` makes them so, and tests check it.
    """
    import mne
    from mne.io.constants import FIFF

    outermost_first = [
        _surface(layers.scalp, conductivity.scalp, FIFF.FIFFV_BEM_SURF_ID_HEAD),
        _surface(layers.outer_skull, conductivity.skull, FIFF.FIFFV_BEM_SURF_ID_SKULL),
        _surface(layers.inner_skull, conductivity.brain, FIFF.FIFFV_BEM_SURF_ID_BRAIN),
    ]
    return mne.make_bem_solution(outermost_first, solver=solver)


def _surface(surface: Surface, inside_s_per_m: float, kind: int) -> dict:
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


def _electrodes(electrode_mm: np.ndarray):
    import mne

    names = [f"E{number}" for number in range(len(electrode_mm))]
    info = mne.create_info(names, 256.0, "eeg")
    places = dict(zip(names, electrode_mm / 1e3, strict=True))
    return info.set_montage(mne.channels.make_dig_montage(places, coord_frame="head"))
