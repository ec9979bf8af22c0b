"""What the simulation needs of the template head: physics only, no inverse."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from aftersit.errors import AftersitError
from aftersit.head.model import Head


@dataclass(frozen=True)
class Sources:
    """Cortex sources of fixed orientation and how the electrodes hear them.

    Attributes
    ----------
    electrodes : tuple of str
        Names in the order of the rows of `gain`.
    gain : ndarray, shape (n_electrodes, n_sources)
        Potential per dipole moment, V/(A m).
    region : ndarray of str, shape (n_sources,)
        Atlas name of each source's region, without the side.
    hemisphere : ndarray of str, shape (n_sources,)
        `left` or `right`.
    area_m2 : ndarray, shape (n_sources,)
        Cortex area of each source.
    position_m : ndarray, shape (n_electrodes, 3)
        Electrodes: right, front, up.
    """

    electrodes: tuple[str, ...]
    gain: np.ndarray
    region: np.ndarray
    hemisphere: np.ndarray
    area_m2: np.ndarray
    position_m: np.ndarray

    @classmethod
    def of_head(cls, head: Head) -> "Sources":
        """Take what is needed from a built head."""
        return cls(
            electrodes=head.names,
            gain=head.gain,
            region=head.region,
            hemisphere=head.hemisphere,
            area_m2=head.area_mm2 * 1e-6,
            position_m=head.electrode_mm * 1e-3,
        )

    @cached_property
    def cortex(self) -> np.ndarray:
        """Sensor covariance of the whole cortex, equally active; see `covariance`.

        Scaled so that an electrode hears 1 uV^2 on average (average reference).
        """
        return self.covariance(np.ones(self.region.size, bool))

    @cached_property
    def _scale(self) -> float:
        full = (self.gain * self.area_m2) @ self.gain.T
        return len(self.electrodes) / np.trace(average_reference(full))

    def covariance(self, chosen: np.ndarray) -> np.ndarray:
        """Sensor covariance L diag(area) L' of the chosen sources, equally active.

        Parameters
        ----------
        chosen : ndarray of bool, shape (n_sources,)
            Which sources are active.

        Returns
        -------
        ndarray, shape (n_electrodes, n_electrodes)
            On the scale of `cortex`, so that regions add up to it.
        """
        gain = self.gain[:, chosen]
        return self._scale * (gain * self.area_m2[chosen]) @ gain.T

    def region_covariance(self, region: str, hemisphere: str) -> np.ndarray:
        """Sensor covariance of one region's sources; see `covariance`.

        Raises
        ------
        AftersitError
            The head has no such region.
        """
        chosen = self.region == region
        if hemisphere != "both":
            chosen &= self.hemisphere == hemisphere
        if not chosen.any():
            known = ", ".join(sorted(set(self.region)))
            raise AftersitError(f"the head has no region '{region}' ({hemisphere}); it has {known}")
        return self.covariance(chosen)

    def region_heard_at(self, electrodes: tuple[str, ...]) -> str:
        """Region (both sides) of whose power the largest part arrives at these electrodes."""
        rows = [self.electrodes.index(e) for e in electrodes]
        shares = {}
        for region in sorted(set(self.region)):
            heard = np.diag(average_reference(self.region_covariance(region, "both")))
            shares[region] = heard[rows].sum() / heard.sum()
        return max(shares, key=shares.get)


def average_reference(covariance: np.ndarray) -> np.ndarray:
    """Covariance after subtracting the mean over electrodes."""
    centred = covariance - covariance.mean(axis=0)
    return centred - centred.mean(axis=1, keepdims=True)


def factor(covariance: np.ndarray, rank: int | None = None) -> np.ndarray:
    """Columns F with F F' = covariance, strongest first; with a rank, its best approximation.

    Unlike a Cholesky factor it also exists when the covariance is singular.
    """
    values, vectors = np.linalg.eigh(covariance)
    values, vectors = values[::-1], vectors[:, ::-1]
    columns = vectors * np.sqrt(np.maximum(values, 0))
    # The sign of an eigenvector is arbitrary; one rule keeps the bytes the same.
    signs = np.sign(columns[np.abs(columns).argmax(axis=0), np.arange(columns.shape[1])])
    return (columns * np.where(signs == 0, 1, signs))[:, :rank]
