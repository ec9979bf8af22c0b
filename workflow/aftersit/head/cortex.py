"""An evenly active cortex as the good electrodes hear it: the yardstick of all measures.

Every source of the cortex is active with equal variance and none with another,
whatever area it stands for (a region's sources stand for 0.7 to 1.8 times the mean);
the electrodes carry a little noise, alike and apart. The noise keeps a filter
from cancelling what no real cap resolves.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from aftersit.errors import AftersitError
from aftersit.head.atlas import half_keys
from aftersit.head.model import Head
from aftersit.head.sloreta import reference_basis


@dataclass(frozen=True)
class EvenCortex:
    """What the good electrodes hear, average reference; powers are in (V/(A m))^2.

    Attributes
    ----------
    gain : ndarray, shape (n_good, n_sources)
        V/(A m).
    region, hemisphere : ndarray of str, shape (n_sources,)
    area_mm2 : ndarray, shape (n_sources,)
    noise : float
        Noise power of each electrode.
    """

    gain: np.ndarray
    region: np.ndarray
    hemisphere: np.ndarray
    area_mm2: np.ndarray
    noise: float

    @cached_property
    def halves(self) -> np.ndarray:
        """C_r = L_r L_r' of each region and side, shape (68, n_good, n_good); see `half_keys`."""
        names = np.char.add(np.char.add(self.region, "-"), self.hemisphere)
        parts = (self.gain[:, names == key] for key in half_keys())
        return np.stack([part @ part.T for part in parts])

    @cached_property
    def covariance(self) -> np.ndarray:
        """C, the sum over all regions, without noise; shape (n_good, n_good)."""
        return self.halves.sum(axis=0)

    @cached_property
    def whitener(self) -> np.ndarray:
        """W such that W (C + noise) W' is the identity, shape (n_good - 1, n_good)."""
        basis = reference_basis(len(self.gain))
        whole = basis @ self.covariance @ basis.T + self.noise * np.eye(len(basis))
        return np.linalg.solve(np.linalg.cholesky(whole), basis)


def even_cortex(head: Head, good: Sequence[str], noise_share: float) -> EvenCortex:
    """The evenly active cortex of a head and its good electrodes.

    Parameters
    ----------
    head : Head
    good : sequence of str
        Electrodes that served; the average reference is taken over them.
    noise_share : float
        Noise power over brain power of an electrode, on average.

    Raises
    ------
    AftersitError
        An electrode that the head does not have, one twice, or fewer than two.
    """
    gain = good_gain(head, good)
    gain = gain - gain.mean(axis=0)
    noise = noise_share * np.sum(gain**2) / (len(gain) - 1)
    return EvenCortex(gain, head.region, head.hemisphere, head.area_mm2, noise)


def good_gain(head: Head, good: Sequence[str]) -> np.ndarray:
    """Rows of the head's gain for some electrodes; raises as `even_cortex` does."""
    unknown = [name for name in good if name not in head.names]
    if unknown:
        raise AftersitError(
            f"the head model has no electrode {', '.join(unknown)}; it has {', '.join(head.names)}"
        )
    if len(set(good)) < max(len(good), 2):
        raise AftersitError(
            f"region measures need at least two electrodes, each once; found {', '.join(good)}"
        )
    return head.gain[[head.names.index(name) for name in good]]
