"""Pauses of the recorder: files whose samples run on while the clock stood still or jumped."""

from collections.abc import Iterable

from aftersit.clock import clock
from aftersit.intake.problems import EXPORT_PARTS, Problem

_JOINTS = frozenset({"bad boundary", "edge boundary", "bad_acq_skip", "boundary"})
"""What mne (the first three) and EEGLAB write where signal is missing."""


def pause(
    marks: Iterable[tuple[float, float, str]], rate_hz: float, duration_s: float
) -> Problem | None:
    """Say where a recording was first paused.

    Parameters
    ----------
    marks : iterable of (float, float, str)
        Onset and length in seconds from the first sample, and text, as mne
        gives them: of BrainVision markers `Type/description`.
    rate_hz : float
        Sampling rate.
    duration_s : float
        Length of the recording.

    Returns
    -------
    Problem | None
        None where no mark says so with signal on both of its sides.
    """
    sample_s = 1 / rate_hz
    at_s = [
        onset
        for onset, length, text in marks
        if _says_pause(text) and onset > sample_s and onset + length < duration_s - sample_s / 2
    ]
    if not at_s:
        return None
    found = f"it was paused at {clock(min(at_s))}; times after the pause can't be trusted"
    return Problem("discontinuous", "recording", found, EXPORT_PARTS)


def _says_pause(text: str) -> bool:
    """BrainVision Core Data Format 1.0: a `New Segment` is a new start of the recording."""
    kind, _, description = text.strip().lower().partition("/")
    return kind == "new segment" or (description or kind).strip() in _JOINTS
