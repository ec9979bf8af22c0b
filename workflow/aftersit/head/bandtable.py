"""Tables of band power and of slopes: every place, band and block, and how well each is known."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from aftersit.head.aperiodic import NOTHING, Slope, fit_range, fit_slopes
from aftersit.head.bands import Band, bands, relative_to_hz
from aftersit.head.intervals import band_dof, form_dof, interval
from aftersit.head.measures import UNITS, RegionMeasures
from aftersit.head.settings import HeadSettings
from aftersit.head.spectra import BlockSpectrum, CrossSpectrum, window_correlation
from aftersit.quality import Carried

UV2_PER_V2 = 1e12

BANDPOWER_COLUMNS = [
    *("block", "place_kind", "place", "measure", "band", "low_hz", "high_hz"),
    *("power", "power_low", "power_high", "dof", "relative_power", "over_slope_db"),
    *("unit", "seconds", "n_segments"),
]
APERIODIC_COLUMNS = [
    *("block", "place_kind", "place", "measure"),
    *("exponent", "offset", "r_squared", "fit_low_hz", "fit_high_hz"),
]


@dataclass(frozen=True)
class Group:
    """Places of one kind in one block.

    Attributes
    ----------
    kind, measure, unit : str
    names : sequence of str
    density : ndarray, shape (n_places, n_bins)
        Unit per Hz.
    matrices : ndarray, shape (n_places, n_good, n_good), or None
        Of region measures.
    """

    kind: str
    measure: str
    unit: str
    names: Sequence[str]
    density: np.ndarray
    matrices: np.ndarray | None = None

    @property
    def labels(self) -> dict[str, object]:
        """Columns that name the places."""
        return {"place_kind": self.kind, "place": list(self.names), "measure": self.measure}


def band_tables(
    spectra: Iterable[BlockSpectrum],
    measures: RegionMeasures,
    carried: Carried,
    settings: HeadSettings,
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Band power of every region and good electrode in every block, and their slopes.

    Parameters
    ----------
    spectra : iterable of BlockSpectrum
    measures : RegionMeasures
    carried : Carried
        What of a band the recording holds.
    settings : HeadSettings

    Returns
    -------
    DataFrame
        Columns `BANDPOWER_COLUMNS`. `power_low` to `power_high` is the 95 % interval of a
        signal whose spectrum stays as it is, on `dof` degrees of freedom;
        `relative_power` is the part of `bands.relative_to_hz`; `over_slope_db` the
        band's power over that of the slope alone. Missing where the recording does not
        carry the band, the block has no usable segment, or nothing was fitted.
    DataFrame
        Columns `APERIODIC_COLUMNS`; places without a slope are left out.
    """
    fit_hz = fit_range(settings.aperiodic, carried.high_hz)
    powers, slopes = [], []
    for item in spectra:
        for group in _groups(item.spectrum, measures):
            found = _slopes(group, item.spectrum, fit_hz, settings)
            slopes.append(_slope_rows(item.block, group, found, fit_hz))
            powers += [_band_rows(item, group, band, found, carried) for band in bands()]
    return _joined(powers, BANDPOWER_COLUMNS), _joined(slopes, APERIODIC_COLUMNS)


def _joined(parts: list[pd.DataFrame], columns: list[str]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    return (
        pd.concat(filled, ignore_index=True)[columns] if filled else pd.DataFrame(columns=columns)
    )


def _groups(spectrum: CrossSpectrum, measures: RegionMeasures) -> list[Group]:
    flat = spectrum.density.real.reshape(len(spectrum.density), -1).T
    groups = [
        Group(
            "region",
            kind,
            UNITS[kind],
            measures.keys,
            measures.of(kind).matrices.reshape(len(measures.keys), -1) @ flat,
            measures.of(kind).matrices,
        )
        for kind in UNITS
    ]
    auto = spectrum.auto * UV2_PER_V2
    return [*groups, Group("electrode", "sensor", "uV^2", measures.good, auto)]


def _slopes(
    group: Group,
    spectrum: CrossSpectrum,
    fit_hz: tuple[float, float] | None,
    settings: HeadSettings,
) -> Sequence[Slope]:
    """Of electrodes only: each fit takes its time, and any region's can be had from them."""
    if group.kind != "electrode":
        return [NOTHING] * len(group.names)
    return fit_slopes(spectrum.frequency_hz, group.density, fit_hz, settings.aperiodic)


def _slope_rows(
    block: int, group: Group, slopes: Sequence[Slope], fit_hz: tuple[float, float] | None
) -> pd.DataFrame:
    low, high = fit_hz or (np.nan, np.nan)
    table = pd.DataFrame(
        {
            "block": block,
            **group.labels,
            "exponent": [slope.exponent for slope in slopes],
            "offset": [slope.offset for slope in slopes],
            "r_squared": [slope.r_squared for slope in slopes],
            "fit_low_hz": low,
            "fit_high_hz": high,
        }
    )
    return table[table["exponent"].notna()]


def _band_rows(
    item: BlockSpectrum, group: Group, band: Band, slopes: Sequence[Slope], carried: Carried
) -> pd.DataFrame:
    spectrum = item.spectrum
    inside = spectrum.inside(*band.limits_hz)
    density = group.density[:, inside]
    power = density.sum(axis=1) * spectrum.bin_hz
    dof = band_dof(density, spectrum.dof, window_correlation())
    if group.matrices is not None:
        dof = dof * form_dof(group.matrices, spectrum.band_covariance(*band.limits_hz))
    low, high = interval(power, dof)
    values = {
        "power": power,
        "power_low": low,
        "power_high": high,
        "dof": dof,
        "relative_power": _relative(group, spectrum, power, carried),
        "over_slope_db": _over_slope(power, slopes, spectrum, inside),
    }
    there = carried.holds(band.limits_hz)
    return pd.DataFrame(
        {
            "block": item.block,
            **group.labels,
            "band": band.name,
            "low_hz": band.low_hz,
            "high_hz": band.high_hz,
            **(values if there else dict.fromkeys(values, np.nan)),
            "unit": group.unit,
            "seconds": spectrum.seconds,
            "n_segments": spectrum.n_segments,
        }
    )


def _relative(
    group: Group, spectrum: CrossSpectrum, power: np.ndarray, carried: Carried
) -> np.ndarray:
    limits = relative_to_hz()
    if not carried.holds(limits):
        return np.full(len(power), np.nan)
    return power / (group.density[:, spectrum.inside(*limits)].sum(axis=1) * spectrum.bin_hz)


def _over_slope(
    power: np.ndarray, slopes: Sequence[Slope], spectrum: CrossSpectrum, inside: np.ndarray
) -> np.ndarray:
    frequency = spectrum.frequency_hz[inside]
    offset, exponent = np.array([(s.offset, s.exponent) for s in slopes]).T[:, :, None]
    alone = (10 ** (offset - exponent * np.log10(frequency))).sum(axis=1) * spectrum.bin_hz
    return 10 * np.log10(power / alone)
