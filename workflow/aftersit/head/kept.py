"""Region measures that are made once for each set of good electrodes, and kept.

Sittings differ in which electrodes served, but few sets come up again and again.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from aftersit.files import as_json, sha256
from aftersit.head.measures import RegionMeasures, load_region_measures, save_region_measures
from aftersit.head.model import load_head
from aftersit.head.plausible import load_plausible
from aftersit.head.region_set import RegionSet
from aftersit.head.regions import region_measures
from aftersit.head.settings import HeadSettings

FOLDER = "sets"
"""Beside the head."""


@dataclass(frozen=True)
class Model:
    """What a montage's measures are made from.

    Attributes
    ----------
    head : Path
        `head.npz`.
    plausible : Path
        `plausible.npz`: heads that a client's could be.
    settings : HeadSettings
    regions : RegionSet
        What is measured.
    seed : int
    """

    head: Path
    plausible: Path
    settings: HeadSettings
    regions: RegionSet
    seed: int


def kept_measures(model: Model, good: Sequence[str]) -> tuple[RegionMeasures, Path]:
    """The measures of a set of good electrodes, made when they are not there yet.

    They lie beside the head, under `sets/`.

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
    path = model.head.parent / FOLDER / f"{set_name(model, good)}.npz"
    if not path.is_file():
        save_region_measures(_measured(model, good), path)
    return load_region_measures(path), path


def _measured(model: Model, good: Sequence[str]) -> RegionMeasures:
    return region_measures(
        load_head(model.head),
        good,
        model.settings,
        model.regions,
        load_plausible(model.plausible),
        model.seed,
    )


def set_name(model: Model, good: Sequence[str]) -> str:
    """Number of electrodes, and a checksum of all that the measures are made from."""
    facts = {
        "good": list(good),
        "settings": model.settings.model_dump(),
        "unions": model.regions.unions,
        "seed": model.seed,
        "files": sha256([model.head, model.plausible]),
    }
    digest = hashlib.sha256(as_json(facts).encode())
    return f"{len(good)}-electrodes-{digest.hexdigest()[:16]}"
