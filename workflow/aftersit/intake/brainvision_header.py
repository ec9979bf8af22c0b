"""What a `.vhdr` must say before its signal file is read."""

import re

from aftersit.intake.problems import EXPORT_AGAIN, Problem, UploadError
from aftersit.intake.upload_files import UploadFiles, header_text

_SAMPLE_BYTES = {"INT_16": 2, "UINT_16": 2, "INT_32": 4, "IEEE_FLOAT_32": 4}
_MOST_CHANNELS = 1024


def check_header(files: UploadFiles) -> None:
    """Check the number of channels, and that the signal file is whole.

    Raises
    ------
    UploadError
        Too many channels to be believed, or a signal file that ends inside a sample
        or holds another number of samples than the header says (`DataPoints`).
    """
    text = header_text(files.head)
    channels = _number(text, "NumberOfChannels")
    if channels is None or not 1 <= channels <= _MOST_CHANNELS:
        found = f"the number of channels is {channels or 'missing'}"
        raise UploadError(Problem("broken-header", "recording", found, EXPORT_AGAIN))
    form = re.search(r"(?mi)^\s*BinaryFormat\s*=\s*(\w+)", text)
    width = _SAMPLE_BYTES.get(form[1].upper()) if form else None
    if width:
        _check_whole(files.parts[0].stat().st_size, channels * width, _number(text, "DataPoints"))


def _check_whole(size: int, width: int, points: int | None) -> None:
    expected = size // width * width if points is None else points * width
    if size != expected:
        found = f"the signal file has {size} bytes; by the header it should have {expected}"
        todo = "copy or export all three files again, whole"
        raise UploadError(Problem("truncated", "recording", found, todo))


def _number(text: str, key: str) -> int | None:
    found = re.search(rf"(?mi)^\s*{key}\s*=\s*(\d{{1,12}})\s*$", text)
    return int(found[1]) if found else None
