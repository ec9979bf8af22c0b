"""Region measures that are made once for each set of good electrodes, and kept.

Sittings differ in which electrodes served, but few sets come up again and again.
"""

import hashlib
from collections.abc import Sequence
from pathlib import Path

from aftersit.files import as_json
from aftersit.head.measures import RegionMeasures, load_region_measures, save_region_measures
from aftersit.head.model import load_head
from aftersit.head.region_set import RegionSet
from aftersit.head.regions import region_measures
from aftersit.head.settings import HeadSettings

FOLDER = "sets"
"""Beside the head."""


def kept_measures(
    head: Path, good: Sequence[str], settings: HeadSettings, regions: RegionSet
) -> tuple[RegionMeasures, Path]:
    """The measures of a set of good electrodes, made when they are not there yet.

    Parameters
    ----------
    head : Path
        `head.npz`; the measures are kept beside it, under `sets/`.
    good, settings, regions
        As in `regions.region_measures`.

    Returns
    -------
    RegionMeasures
    Path
        Where they are kept. Two processes that make the same one write the same bytes.

    Raises
    ------
    AftersitError
        Electrodes that can't serve, or a file that can't be read.
    """
    path = head.parent / FOLDER / f"{set_name(head, good, settings, regions)}.npz"
    if not path.is_file():
        save_region_measures(region_measures(load_head(head), good, settings, regions), path)
    return load_region_measures(path), path


def set_name(head: Path, good: Sequence[str], settings: HeadSettings, regions: RegionSet) -> str:
    """Number of electrodes, and a checksum of all that the measures are made from."""
    facts = {"good": list(good), "settings": settings.model_dump(), "unions": regions.unions}
    digest = hashlib.sha256(as_json(facts).encode() + head.read_bytes())
    return f"{len(good)}-electrodes-{digest.hexdigest()[:16]}"
