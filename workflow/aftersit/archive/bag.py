"""The bag: BagIt 1.0 (RFC 8493) around a payload."""

import contextlib
import hashlib
import logging
import os
from collections.abc import Iterator
from pathlib import Path

ALGORITHM = "sha512"
"""The one that RFC 8493 (section 2.4) asks for by default."""
MANIFEST = f"manifest-{ALGORITHM}.txt"
_TIME = 315_532_800
"""1 January 1980: times of change would tell when the bag was made."""
_DECLARATION = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"


def make_bag(folder: Path, info: dict[str, str]) -> str:
    """Turn a folder into a bag: what lies in it becomes `data/`.

    Parameters
    ----------
    folder : Path
        Its content becomes the payload.
    info : dict
        For `bag-info.txt`.

    Returns
    -------
    str
        SHA-256 of the manifest.
    """
    import bagit

    with _silent(bagit.LOGGER):
        bagit.make_bag(str(folder), bag_info=dict(info), checksums=[ALGORITHM])
    # The package declares the draft before the RFC; what it writes is valid by both.
    (folder / "bagit.txt").write_text(_DECLARATION)
    _write_tag_manifest(folder)
    for path in (folder, *folder.rglob("*")):
        os.utime(path, (_TIME, _TIME))
    return hashlib.sha256((folder / MANIFEST).read_bytes()).hexdigest()


def _write_tag_manifest(folder: Path) -> None:
    names = ("bag-info.txt", "bagit.txt", MANIFEST)
    lines = [
        f"{hashlib.new(ALGORITHM, (folder / name).read_bytes()).hexdigest()}  {name}\n"
        for name in names
    ]
    (folder / f"tagmanifest-{ALGORITHM}.txt").write_text("".join(lines))


@contextlib.contextmanager
def _silent(logger: logging.Logger) -> Iterator[None]:
    """The package tells of each file; what counts is said elsewhere."""
    level = logger.level
    logger.setLevel(logging.ERROR)
    try:
        yield
    finally:
        logger.setLevel(level)
