"""Settings of this stage that change results."""

from typing import Annotated

from pydantic import Field

from aftersit.closed import Closed

Positive = Annotated[float, Field(gt=0)]


class IntakeSettings(Closed):
    """Section `intake` of a settings version."""

    min_electrodes: Annotated[int, Field(ge=1, le=19)] = 16
    """Standard electrodes that must be there and not flat."""
    min_seconds: Positive = 60.0
    """Shortest recording, a constant tail not counted; seconds."""
    max_seconds: Positive = 14_400.0
    """Longest recording; seconds."""
    min_rate_hz: Positive = 100.0
    max_rate_hz: Positive = 4096.0
    min_amplitude_uv: Positive = 0.25
    max_amplitude_uv: Positive = 1000.0
    """Limits of the median, over electrodes and 1 s windows, of the standard deviation."""
    flat_uv: Positive = 0.01
    """An electrode with a smaller standard deviation, in the median window, is flat."""
    constant_s: Positive = 1.0
    """Shortest run of one and the same value that is noted; seconds."""
    tail_s: Positive = 0.25
    """Shortest constant end of the recording, in all electrodes, that is noted; seconds."""
    min_covered: Annotated[float, Field(ge=0, le=1)] = 0.5
    """Part of the recording that the blocks take together; of less there is a note."""
    block_tolerance_s: Annotated[float, Field(ge=0, le=5)] = 0.5
    """A block that ends this much after the recording is cut to it; seconds."""
