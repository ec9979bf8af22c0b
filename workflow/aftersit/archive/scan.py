"""The scan of a finished bag: nothing that tells who somebody is may be in it.

It knows nothing of how the bag was made. It opens what is compressed, reads text in several
encodings and compares words with words; in bytes that are no text it looks for longer texts
in the encodings in which they may stand there.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from aftersit.archive.bytesearch import ByteSearch
from aftersit.archive.opened import Part, UnreadableError, opened
from aftersit.archive.secrets import Secrets
from aftersit.archive.textsearch import TextSearch
from aftersit.archive.textviews import views

TELL_DAY = {"bag-info.txt", "data/bids/CITATION.cff", "data/ro-crate-metadata.json"}
"""Where a bag's own day may stand, which may be one on which somebody sat."""


@dataclass(frozen=True, order=True)
class Finding:
    """Something that must not leave, and where; never the text itself."""

    where: str
    kind: str


def scan(bag: Path, secrets: Secrets) -> list[Finding]:
    """Look through every file of a bag, and through their names.

    Parameters
    ----------
    bag : Path
        Folder of the bag; all that lies in it is looked at.
    secrets : Secrets
        What to look for.

    Returns
    -------
    list of Finding
        Sorted, each once; empty when nothing was found.
    """
    text, raw = TextSearch(secrets), ByteSearch(secrets)
    found: set[Finding] = set()
    for path in sorted(bag.rglob("*")):
        where = str(path.relative_to(bag))
        found.update(Finding(where, kind) for kind in text.kinds(where))
        if path.is_symlink():
            found.add(Finding(where, "a link"))
        elif path.is_file():
            found.update(_in_file(path, where, text, raw))
    return sorted(found)


def _in_file(path: Path, where: str, text: TextSearch, raw: ByteSearch) -> Iterator[Finding]:
    try:
        for part in opened(Part(where, path.read_bytes())):
            for kind in _kinds(part.data, text, raw, tells_day=where in TELL_DAY):
                yield Finding(part.where, kind)
    except UnreadableError as error:
        yield Finding(str(error), "a part that can't be looked into")


def _kinds(data: bytes, text: TextSearch, raw: ByteSearch, tells_day: bool) -> Iterator[str]:
    is_text, readings = views(data)
    for reading in readings:
        yield from text.kinds(reading, tells_day)
    if not is_text:
        yield from raw.kinds(data)
