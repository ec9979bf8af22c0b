"""The template head: how 19 electrodes hear each source of the cortex."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np

from aftersit.electrodes import STANDARD_19
from aftersit.head.arrays import load_arrays, save_arrays
from aftersit.head.atlas import HEMISPHERES, read_labels
from aftersit.head.settings import HeadSettings
from aftersit.head.solver import solve_bem
from aftersit.head.surface import vertex_areas, vertex_normals
from aftersit.head.template import read_cortex, read_layers, trans_file

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

    def only(self, names: Sequence[str]) -> "Head":
        """The same head with some of its electrodes, in the order given."""
        rows = [self.names.index(name) for name in names]
        places = {"gain": self.gain[rows], "electrode_mm": self.electrode_mm[rows]}
        return replace(self, names=tuple(names), **places)


def build_head(settings: HeadSettings, names: tuple[str, ...] = STANDARD_19) -> Head:
    """Solve the three-layer boundary element model of the template head.

    Parameters
    ----------
    settings : HeadSettings
    names : tuple of str
        Electrodes of the 10-5 system.
    """
    cortex = template_cortex(settings.cortex_surface)
    electrode_mm = template_electrodes(names)
    free = solve_bem(
        read_layers(settings), settings.conductivity_s_per_m, cortex["position_mm"], electrode_mm
    )
    gain = np.ascontiguousarray(np.einsum("esd,sd->es", free, cortex["normal"]))
    return Head(names=tuple(names), gain=gain, electrode_mm=electrode_mm, **cortex)


def template_cortex(surface: str) -> dict[str, np.ndarray]:
    """Sources of both sides, without the medial wall: the columns of `Head` that need no solving.

    Parameters
    ----------
    surface : {'white', 'mid'}
        See `HeadSettings.cortex_surface`.
    """
    sides = [_side(name, surface) for name in HEMISPHERES]
    columns = {key: np.concatenate([side[key] for side in sides]) for key in sides[0]}
    cortex = columns["region"] != ""
    return {key: values[cortex] for key, values in columns.items()}


def _side(hemisphere: str, where: str) -> dict[str, np.ndarray]:
    sheet = read_cortex(hemisphere, where)
    n = len(sheet.vertices_mm)
    return {
        "position_mm": sheet.vertices_mm,
        "normal": vertex_normals(sheet),
        "area_mm2": vertex_areas(sheet),
        "hemisphere": np.full(n, hemisphere),
        "vertex": np.arange(n),
        "region": read_labels(hemisphere),
    }


def template_electrodes(names: Sequence[str]) -> np.ndarray:
    """Places of electrodes of the 10-5 system on the template's scalp, shape (n, 3), mm."""
    import mne

    info = mne.create_info(list(names), 256.0, "eeg")
    info.set_montage(MONTAGE)
    in_head = np.array([channel["loc"][:3] for channel in info["chs"]])
    return mne.transforms.apply_trans(mne.read_trans(trans_file()), in_head) * 1e3


def save_head(head: Head, path: Path) -> None:
    """Write a head as .npz; the same head gives the same bytes."""
    save_arrays(path, {field.name: np.asarray(getattr(head, field.name)) for field in fields(Head)})


def load_head(path: Path) -> Head:
    """Read what `save_head` wrote; AftersitError when it can't serve."""
    arrays = load_arrays(path)
    return Head(**{**arrays, "names": tuple(str(name) for name in arrays["names"])})
