"""The clock of an EDF+ or BDF+ file: the time that each data record gives for itself."""

import re
from itertools import takewhile
from pathlib import Path

import numpy as np

from aftersit.clock import clock
from aftersit.intake.edf_header import EdfHeader
from aftersit.intake.problems import EXPORT_PARTS, Problem

TOLERANCE_S = 0.25
"""Recorders round their clock and drift a little; more than this moves blocks (common
practice, no source)."""

_ONSET = re.compile(rb"([+-]\d{1,12}(?:\.\d{0,12})?)\x14\x14")


def clock_problem(path: Path, header: EdfHeader) -> Problem | None:
    """Say where the records of a file do not follow each other.

    Parameters
    ----------
    path : Path
        The file, whose size is what its header says.
    header : EdfHeader
        Its header.

    Returns
    -------
    Problem | None
        None where every record that states its time (EDF+ 2.2.4) begins when the
        one before ends, and for files that state none.
    """
    stated = _onsets_s(path, header)
    if not stated:
        return None
    first, start_s = stated[0]
    for record, onset_s in stated:
        expected_s = (record - first) * header.record_s
        if abs(onset_s - start_s - expected_s) > TOLERANCE_S:
            found = (
                f"by its own clock the record at {clock(record * header.record_s)} begins at "
                f"{onset_s - start_s:.1f} s; times from there on can't be trusted"
            )
            return Problem("discontinuous", "recording", found, EXPORT_PARTS)
    return None


def _onsets_s(path: Path, header: EdfHeader) -> list[tuple[int, float]]:
    """Number of each record that states its time, and that time in seconds."""
    before = list(takewhile(lambda s: not s.is_annotations, header.signals))
    if len(before) == len(header.signals) or not header.records:
        return []
    begin = header.sample_bytes * sum(s.samples_per_record for s in before)
    length = header.sample_bytes * header.signals[len(before)].samples_per_record
    shape = (header.records, header.record_bytes)
    records = np.memmap(path, np.uint8, "r", header.header_bytes, shape)
    found = (_ONSET.match(row.tobytes()) for row in records[:, begin : begin + length])
    return [(number, float(match[1])) for number, match in enumerate(found) if match]
