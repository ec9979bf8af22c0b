"""The template head: how 19 electrodes hear each source of the cortex."""

import tempfile
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from aftersit.electrodes import STANDARD_19
from aftersit.head.arrays import load_arrays, save_arrays
from aftersit.head.atlas import HEMISPHERES, read_labels
from aftersit.head.settings import HeadSettings
from aftersit.head.template import (
    Surface,
    read_cortex,
    read_layers,
    trans_file,
    vertex_areas,
)

SUBJECT = "fsaverage"

MONTAGE = "fsaverage_1005"
"""mne's 10-5 positions laid out on this very head. The set measured on Colin27's head
(`colin27_1005`, once `standard_1005`) puts Cz 15 mm further forward here."""


@dataclass(frozen=True)
class Head:
    """Sources on the template cortex, normal to it, and how electrodes hear them.

    Positions are in fsaverage's surface coordinates, which are MNI305.

    Attributes
    ----------
    names : tuple of str
        Electrodes, in the order of the rows of `gain`.
    gain : ndarray, shape (n_electrodes, n_sources)
        Potential per dipole moment, V/(A m); no reference taken.
    position_mm : ndarray, shape (n_sources, 3)
    normal : ndarray, shape (n_sources, 3)
        Direction of each source, out of the white matter; unit length.
    area_mm2 : ndarray, shape (n_sources,)
        Cortex that each source stands for.
    hemisphere : ndarray of str, shape (n_sources,)
        `left` or `right`.
    vertex : ndarray of int, shape (n_sources,)
        Number in that side's fsaverage5 mesh.
    region : ndarray of str, shape (n_sources,)
        Atlas name without the side. Vertices of the medial wall are no sources.
    electrode_mm : ndarray, shape (n_electrodes, 3)
    """

    names: tuple[str, ...]
    gain: np.ndarray
    position_mm: np.ndarray
    normal: np.ndarray
    area_mm2: np.ndarray
    hemisphere: np.ndarray
    vertex: np.ndarray
    region: np.ndarray
    electrode_mm: np.ndarray


def build_head(settings: HeadSettings, names: tuple[str, ...] = STANDARD_19) -> Head:
    """Solve the three-layer boundary element model of the template head.

    Linear collocation with the isolated-skull approach (Haemaelaeinen & Sarvas
    1989, IEEE Trans Biomed Eng 36:165), as implemented in mne.

    Parameters
    ----------
    settings : HeadSettings
    names : tuple of str
        Electrodes of the 10-5 system.
    """
    import mne

    with tempfile.TemporaryDirectory() as folder, mne.utils.use_log_level("ERROR"):
        _write_subject(Path(folder) / SUBJECT, settings)
        forward = _solve(Path(folder), settings, names)
    sides = [_side(space, name) for space, name in zip(forward["src"], HEMISPHERES, strict=True)]
    columns = {key: np.concatenate([side[key] for side in sides]) for key in sides[0]}
    cortex = columns["region"] != ""
    columns["gain"] = _along_normals(forward)
    return Head(
        names=tuple(names),
        gain=np.ascontiguousarray(columns.pop("gain")[:, cortex]),
        electrode_mm=_electrodes_mm(forward["info"]),
        **{key: values[cortex] for key, values in columns.items()},
    )


def _write_subject(folder: Path, settings: HeadSettings) -> None:
    """The surfaces as the subject's folder that mne reads."""
    layers = read_layers(settings)
    for name in ("inner_skull", "outer_skull", "scalp"):
        as_mne = "outer_skin" if name == "scalp" else name
        _write(folder / "bem" / f"{as_mne}.surf", getattr(layers, name))
    for hemisphere in HEMISPHERES:
        _write(
            folder / "surf" / f"{hemisphere[0]}h.cortex",
            read_cortex(hemisphere, settings.cortex_surface),
        )


def _write(path: Path, surface: Surface) -> None:
    import mne

    path.parent.mkdir(parents=True, exist_ok=True)
    mne.write_surface(path, surface.vertices_mm, surface.triangles)


def _solve(subjects: Path, settings: HeadSettings, names: tuple[str, ...]):
    """Solve with mne, three directions a source."""
    import mne

    layers = settings.conductivity_s_per_m
    surfaces = mne.make_bem_model(
        SUBJECT,
        ico=None,
        conductivity=(layers.brain, layers.skull, layers.scalp),
        subjects_dir=subjects,
    )
    space = mne.setup_source_space(
        SUBJECT, spacing="all", surface="cortex", subjects_dir=subjects, add_dist=False
    )
    info = mne.create_info(list(names), 256.0, "eeg")
    info.set_montage(MONTAGE)
    return mne.make_forward_solution(
        info, trans_file(), space, mne.make_bem_solution(surfaces), meg=False, mindist=0.0
    )


def _along_normals(forward) -> np.ndarray:
    """Gain for sources normal to the cortex, in double precision.

    Not by mne's own conversion, which goes through single precision.
    """
    normals = np.concatenate([space["nn"][space["vertno"]] for space in forward["src"]])
    free = forward["sol"]["data"].astype(float).reshape(-1, len(normals), 3)
    return np.einsum("esd,sd->es", free, normals)


def _side(space: dict, hemisphere: str) -> dict[str, np.ndarray]:
    import mne

    vertex = space["vertno"].astype(np.int64)
    head_to_surface = mne.read_trans(trans_file())
    surface = Surface(
        mne.transforms.apply_trans(head_to_surface, space["rr"]) * 1e3, space["tris"].astype(int)
    )
    return {
        "position_mm": surface.vertices_mm[vertex],
        "normal": mne.transforms.apply_trans(head_to_surface, space["nn"][vertex], move=False),
        "area_mm2": vertex_areas(surface)[vertex],
        "hemisphere": np.full(len(vertex), hemisphere),
        "vertex": vertex,
        "region": read_labels(hemisphere)[vertex],
    }


def _electrodes_mm(info) -> np.ndarray:
    import mne

    in_head = np.array([channel["loc"][:3] for channel in info["chs"]])
    return mne.transforms.apply_trans(mne.read_trans(trans_file()), in_head) * 1e3


def save_head(head: Head, path: Path) -> None:
    """Write a head as .npz; the same head gives the same bytes."""
    save_arrays(path, {field.name: np.asarray(getattr(head, field.name)) for field in fields(Head)})


def load_head(path: Path) -> Head:
    """Read what `save_head` wrote; AftersitError when it can't serve."""
    arrays = load_arrays(path)
    return Head(**{**arrays, "names": tuple(str(name) for name in arrays["names"])})
