"""Pictures of measures, drawn once for each set of good electrodes and kept."""

import hashlib
from pathlib import Path

from aftersit.files import write_atomically
from aftersit.head.brainmap import brain_map, source_shares
from aftersit.head.measures import MeasureKind, RegionMeasures
from aftersit.head.model import load_head

FOLDER = "pictures"
"""Beside the head."""


def kept_picture(head: Path, measures: RegionMeasures, key: str, measure: MeasureKind) -> bytes:
    """Where a measure comes from, on the template brain; drawn when it is not there yet.

    Parameters
    ----------
    head : Path
        `head.npz` that the measures were made with.
    measures : RegionMeasures
    key, measure : str
        As in `RegionMeasures.matrix`.

    Returns
    -------
    bytes
        PNG; see `aftersit.head.brainmap`.
    """
    matrix = measures.matrix(key, measure)
    facts = [matrix.tobytes(), " ".join(measures.good).encode(), head.read_bytes()]
    digest = hashlib.sha256(b"".join(facts)).hexdigest()[:16]
    path = head.parent / FOLDER / f"{key}-{measure}-{digest}.png"
    if not path.is_file():
        whole = load_head(head)
        inside = measures.regions.members(key, whole.region, whole.hemisphere)
        shares = source_shares(whole.only(measures.good), matrix)
        write_atomically(path, brain_map(whole, inside, shares))
    return path.read_bytes()
