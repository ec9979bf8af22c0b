"""The update grid: when a condition is looked at, and which samples it has seen."""

from dataclasses import dataclass

import numpy as np

from aftersit.errors import AftersitError

# Products such as 3 * 0.1 * 250 miss whole numbers by rounding only; far less than a sample.
_SLACK = 1e-6


def samples_before(time_s: float | np.ndarray, rate_hz: float) -> np.ndarray:
    """Number of samples that lie before a time; sample i lies at i / rate_hz.

    The rounding rule of the whole replay: a decision at t has seen the samples
    at i / rate_hz < t, and none at or after t.
    """
    return np.ceil(np.asarray(time_s) * rate_hz - _SLACK).astype(np.int64)


@dataclass(frozen=True)
class Grid:
    """Decisions at k * update_s, k = 0, 1, ... inside a recording.

    Row k of a timeline is the decision at `times_s[k]` and holds until the
    next one. The grid is in seconds, so that it does not depend on the rate.
    """

    update_s: float
    rate_hz: float
    n_samples: int

    def __post_init__(self):
        if self.update_s * self.rate_hz < 1 - _SLACK:
            raise AftersitError(
                f"update_s {self.update_s:g} is shorter than one sample at {self.rate_hz:g} Hz; "
                f"it must be at least {np.ceil(1e4 / self.rate_hz) / 1e4:g}"
            )

    @property
    def duration_s(self) -> float:
        return self.n_samples / self.rate_hz

    @property
    def n_rows(self) -> int:
        """Decisions at 0 and later, before the recording's end."""
        return int(np.ceil(self.duration_s / self.update_s - _SLACK))

    @property
    def times_s(self) -> np.ndarray:
        """Time of each decision, shape (n_rows,)."""
        return np.arange(self.n_rows) * self.update_s

    def first_sample(self, step: int | np.ndarray) -> np.ndarray:
        """First sample of a step; step k holds the samples in [k, k + 1) * update_s."""
        return samples_before(np.asarray(step) * self.update_s, self.rate_hz)
