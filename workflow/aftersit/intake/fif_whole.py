"""Whether a FIF file is whole."""

import struct
from pathlib import Path

_HEADER = struct.Struct(">4i")
"""Kind, type, size in bytes and place of the next tag; big-endian."""
_FOLLOWS, _LAST = 0, -1
"""Places of the next tag that mean: right behind this one; there is none."""


def is_whole(path: Path) -> bool:
    """Whether the chain of tags leads to a last one inside the file.

    A reader takes the samples before a cut for all there are. The layout is that of
    the functional image file format, as mne's constants describe it.
    """
    size = path.stat().st_size
    place, longest = 0, size // _HEADER.size
    with path.open("rb") as file:
        for _ in range(longest):
            file.seek(place)
            head = file.read(_HEADER.size)
            if len(head) < _HEADER.size:
                return False
            _, _, length, following = _HEADER.unpack(head)
            end = place + _HEADER.size + length
            if length < 0 or end > size:
                return False
            if following == _LAST:
                return True
            place = end if following == _FOLLOWS else following
            if place < 0:
                return False
    return False
