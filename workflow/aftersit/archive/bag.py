"""The bag: BagIt 1.0 (RFC 8493) around a payload."""

import contextlib
import hashlib
import logging
import os
from collections.abc import Iterator
from pathlib import Path

from aftersit.counted import counted

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
        For `bag-info.txt`; without `Bagging-Date` (optional in RFC 8493, section 2.2.2) the
        bag gives no day.

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
    if "Bagging-Date" not in info:
        _take_today_out(folder / "bag-info.txt")
    _write_tag_manifest(folder)
    for path in (folder, *folder.rglob("*")):
        os.utime(path, (_TIME, _TIME))
    return hashlib.sha256((folder / MANIFEST).read_bytes()).hexdigest()


def _take_today_out(path: Path) -> None:
    """The package adds the day of the machine."""
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join(line for line in lines if not line.startswith("Bagging-Date:")))


def problems(folder: Path) -> list[str]:
    """What keeps a bag from being whole: files that changed, are gone or came in.

    Only files that the bag lists are named; one that came in may be called anything.
    """
    import bagit

    try:
        with _silent(bagit.LOGGER, logging.CRITICAL):
            bag = bagit.Bag(str(folder))
            gone, new = bag.compare_manifests_with_fs()
            told = [f"{name} is gone" for name in sorted(gone)]
            told += [f"{counted(len(new), 'file')} came in, not of the bag"] if new else []
            # A sum of all sizes is compared first and hides which file it was.
            bag.info.pop("Payload-Oxum", None)
            bag.validate(processes=1)
    except bagit.BagValidationError as error:
        changed = [e.path for e in error.details if isinstance(e, bagit.ChecksumMismatch)]
        return told + [f"{name} changed" for name in sorted(changed)] or [str(error)]
    except bagit.BagError:
        return ["it can't be read as a bag"]
    return []


def _write_tag_manifest(folder: Path) -> None:
    names = ("bag-info.txt", "bagit.txt", MANIFEST)
    lines = [
        f"{hashlib.new(ALGORITHM, (folder / name).read_bytes()).hexdigest()}  {name}\n"
        for name in names
    ]
    (folder / f"tagmanifest-{ALGORITHM}.txt").write_text("".join(lines))


@contextlib.contextmanager
def _silent(logger: logging.Logger, above: int = logging.ERROR) -> Iterator[None]:
    """The package tells of each file; what counts is said elsewhere."""
    level = logger.level
    logger.setLevel(above)
    try:
        yield
    finally:
        logger.setLevel(level)
