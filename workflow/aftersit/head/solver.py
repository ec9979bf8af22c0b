"""Potentials of dipoles in three nested layers, by the boundary element method.

Linear collocation with the isolated-skull approach (Haemaelaeinen & Sarvas 1989,
IEEE Trans Biomed Eng 36:165), as implemented in mne. mne's own frames are not
used: everything is in the coordinates of the surfaces.
"""

import tempfile
from pathlib import Path
from typing import Literal

import numpy as np

from aftersit.errors import AftersitError
from aftersit.head.settings import Conductivity
from aftersit.head.template import Layers, Surface

SUBJECT = "layers"
_FILES = {"inner_skull": "inner_skull", "outer_skull": "outer_skull", "scalp": "outer_skin"}
"""Layer -> what mne calls it."""


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
    import mne

    with tempfile.TemporaryDirectory() as folder:
        for name, as_mne in _FILES.items():
            _write(Path(folder, SUBJECT, "bem", f"{as_mne}.surf"), getattr(layers, name))
        surfaces = mne.make_bem_model(
            SUBJECT,
            ico=None,
            conductivity=(conductivity.brain, conductivity.skull, conductivity.scalp),
            subjects_dir=folder,
        )
    return mne.make_bem_solution(surfaces, solver=solver)


def _write(path: Path, surface: Surface) -> None:
    import mne

    path.parent.mkdir(parents=True, exist_ok=True)
    mne.write_surface(path, surface.vertices_mm, surface.triangles)


def _electrodes(electrode_mm: np.ndarray):
    import mne

    names = [f"E{number}" for number in range(len(electrode_mm))]
    info = mne.create_info(names, 256.0, "eeg")
    places = dict(zip(names, electrode_mm / 1e3, strict=True))
    return info.set_montage(mne.channels.make_dig_montage(places, coord_frame="head"))
