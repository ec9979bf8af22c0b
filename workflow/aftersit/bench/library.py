"""The template head as mne's own objects, to hold results and costs against mne's."""

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Literal

import numpy as np

from aftersit.head.atlas import HEMISPHERES, half_keys
from aftersit.head.model import MONTAGE, Head
from aftersit.head.settings import Conductivity
from aftersit.head.solver import solved_layers
from aftersit.head.template import Layers, read_cortex, trans_file


def recording(signal: np.ndarray, rate_hz: float, names: Sequence[str]):
    """Potentials in volts, shape (n_electrodes, n_samples), with the average as reference."""
    import mne

    info = mne.create_info(list(names), rate_hz, "eeg")
    info.set_montage(MONTAGE)
    raw = mne.io.RawArray(signal, info, verbose="ERROR")
    return raw.set_eeg_reference(projection=True, verbose="ERROR")


def electrodes_at(electrode_mm: np.ndarray):
    """Measurement info with electrodes at these places, shape (n, 3), in mne's head frame."""
    import mne

    names = [f"E{number}" for number in range(len(electrode_mm))]
    info = mne.create_info(names, 256.0, "eeg")
    places = dict(zip(names, electrode_mm / 1e3, strict=True))
    return info.set_montage(mne.channels.make_dig_montage(places, coord_frame="head"))


def solve_by_library(
    layers: Layers,
    conductivity: Conductivity,
    position_mm: np.ndarray,
    electrode_mm: np.ndarray,
    solver: Literal["mne", "openmeeg"],
) -> np.ndarray:
    """What `solve_bem` gives, by mne's forward solution; its frames are not used."""
    import mne

    nearest = np.broadcast_to([0.0, 0.0, 1.0], position_mm.shape)
    with mne.utils.use_log_level("ERROR"):
        space = mne.setup_volume_source_space(pos={"rr": position_mm / 1e3, "nn": nearest})
        solved = solved_layers(layers, conductivity, solver)
        forward = mne.make_forward_solution(
            electrodes_at(electrode_mm), None, space, solved, meg=False, mindist=0.0
        )
    return forward["sol"]["data"].astype(float).reshape(len(electrode_mm), -1, 3)


def inverse_operator(forward, raw, noise_v: float):
    """Inverse operator with fixed orientation and no depth weighting, as ours."""
    import mne

    noise = mne.make_ad_hoc_cov(raw.info, std={"eeg": noise_v}, verbose="ERROR")
    return mne.minimum_norm.make_inverse_operator(
        raw.info, forward, noise, loose=0.0, depth=None, fixed=True, verbose="ERROR"
    )


def forward_solution(head: Head):
    """A forward solution whose sources and gain are those of the head."""
    import mne

    info = mne.create_info(list(head.names), 256.0, "eeg")
    info.set_montage(MONTAGE)
    forward = mne.make_forward_solution(
        info,
        trans_file(),
        source_space(head),
        # Only its place is taken, by the head's gain; large enough to hold every source.
        mne.make_sphere_model((0, 0, 0.04), 0.2, verbose="ERROR"),
        meg=False,
        mindist=0.0,
        verbose="ERROR",
    )
    forward = mne.convert_forward_solution(forward, force_fixed=True, verbose="ERROR")
    forward["sol"]["data"] = head.gain.copy()
    return forward


def source_space(head: Head, surface: str = "mid"):
    """The sheet of sources of both sides, with the head's vertices in use."""
    import mne

    with tempfile.TemporaryDirectory() as folder:
        surf = Path(folder, "fsaverage", "surf")
        surf.mkdir(parents=True)
        for side in HEMISPHERES:
            sheet = read_cortex(side, surface)
            mne.write_surface(surf / f"{side[0]}h.sheet", sheet.vertices_mm, sheet.triangles)
        spaces = mne.setup_source_space(
            "fsaverage", "all", "sheet", subjects_dir=folder, add_dist=False, verbose="ERROR"
        )
    for space, side in zip(spaces, HEMISPHERES, strict=True):
        chosen = head.vertex[head.hemisphere == side]
        space["inuse"] = np.isin(np.arange(space["np"]), chosen).astype(int)
        space["vertno"], space["nuse"] = chosen, len(chosen)
    return spaces


def labels(head: Head) -> list:
    """Every region of one side as a label."""
    import mne

    made = []
    for key in half_keys():
        name, _, side = key.rpartition("-")
        vertices = head.vertex[(head.region == name) & (head.hemisphere == side)]
        made.append(mne.Label(vertices, hemi=f"{side[0]}h", name=name, subject="fsaverage"))
    return made
