"""Paired differences with clients as clusters.

Sittings of one client are alike, so they don't count as separate evidence: each client's
mean difference is one value, and the interval is Student's over clients, moved for skewness. It
holds whatever ties a client's sittings together; it assumes that clients are independent and
that their means are not far from normal (Donner & Klar 2000, Design and Analysis of Cluster
Randomization Trials, on summaries by cluster). Robust variances for few clusters (CR2, CR3)
are those of the clients' means here, since each client is one value and counts the same.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

LEVEL = 0.95
FEWEST_CLIENTS = 3
"""Two clients give an interval too wide to be of use."""


@dataclass(frozen=True)
class Difference:
    """B less A, over clients.

    Attributes
    ----------
    mean : float or None
        Mean of the clients' means; None without a sitting.
    low, high : float or None
        95 % interval; None for fewer than three clients.
    sittings, clients : int
        How many the difference is known for.
    up, down : int
        Sittings in which B is higher, and lower.
    """

    mean: float | None
    low: float | None
    high: float | None
    sittings: int
    clients: int
    up: int
    down: int

    @property
    def same(self) -> int:
        """Sittings without any difference."""
        return self.sittings - self.up - self.down


def difference(values: Sequence[float | None], clients: Sequence[str]) -> Difference:
    """The mean paired difference with its interval.

    Parameters
    ----------
    values : sequence of float or None
        B less A for each sitting; None where it is not known.
    clients : sequence of str
        Whose sitting each is.
    """
    pairs = [(v, c) for v, c in zip(values, clients, strict=True) if v is not None and v == v]
    by_client: dict[str, list[float]] = {}
    for value, client in pairs:
        by_client.setdefault(client, []).append(value)
    means = np.array([np.mean(found) for found in by_client.values()])
    low, high = interval(means)
    return Difference(
        mean=float(means.mean()) if len(means) else None,
        low=low,
        high=high,
        sittings=len(pairs),
        clients=len(means),
        up=sum(value > 0 for value, _ in pairs),
        down=sum(value < 0 for value, _ in pairs),
    )


def interval(means: np.ndarray) -> tuple[float | None, float | None]:
    """Student's 95 % interval of a mean of independent values, moved for skewness.

    A change that matters to few clients pulls the mean to their side, and Student's interval
    then ends too early there: both ends move by m3 / (6 n s^2), with m3 the third central
    moment (Johnson 1978, J Am Stat Assoc 73:536, the interval of the modified t).

    Returns
    -------
    tuple of (float, float)
        (None, None) for fewer than `FEWEST_CLIENTS` values.
    """
    n = len(means)
    if n < FEWEST_CLIENTS:
        return None, None
    from scipy.stats import t

    mean, variance = float(means.mean()), float(means.var(ddof=1))
    half = float(t.ppf((1 + LEVEL) / 2, n - 1)) * np.sqrt(variance / n)
    skewed = float(((means - mean) ** 3).mean())
    middle = mean + (skewed / (6 * n * variance) if variance > 0 else 0.0)
    return float(middle - half), float(middle + half)
