"""Beside each condition: what both region measures say of its band, and bump or slope.

Two measures of one region hear different mixtures. Where both show the same change
between blocks it is likelier to lie where they overlap, the region among other
places; where they do not, nothing can be said of the region.
"""

from collections.abc import Sequence

import numpy as np

from aftersit.blocks import Block
from aftersit.head.aperiodic import fit_range
from aftersit.head.measures import OTHER, RegionMeasures
from aftersit.head.placepower import PlacePower, contrast_db, over_slope, place_power
from aftersit.head.settings import AperiodicSettings
from aftersit.head.spectra import BlockSpectrum, CrossSpectrum
from aftersit.protocol import Condition, ElectrodePlace
from aftersit.quality import Carried
from aftersit.record import Agreement, BlockEvidence, ConditionEvidence, Contrast
from aftersit.replay.conditions import electrode_matrix
from aftersit.sheet import Kind


def evidence(
    conditions: Sequence[Condition],
    blocks: Sequence[Block],
    spectra: Sequence[BlockSpectrum],
    regions: RegionMeasures,
    carried: Carried,
    settings: AperiodicSettings,
) -> tuple[ConditionEvidence, ...]:
    """What the blocks' spectra say beside each condition that can be measured at all.

    Parameters
    ----------
    conditions : sequence of Condition
    blocks : sequence of Block
    spectra : sequence of BlockSpectrum
        Of the cleaned signal, for the good electrodes; blocks without any are left out.
    regions : RegionMeasures
        For the same electrodes.
    carried : Carried
        What the recording holds; a band that it does not hold has no evidence.
    settings : AperiodicSettings
    """
    found = {item.block: item.spectrum for item in spectra}
    fit_hz = fit_range(settings, carried.high_hz)
    base = next((b.index for b in blocks if b.kind is Kind.BASELINE and b.index in found), None)
    results = []
    for condition in conditions:
        forms = _forms(condition, regions)
        if not forms or not all(carried.holds(band) for band in condition.bands_hz):
            continue
        rows = [
            _block(index, condition, spectrum, found.get(base), forms, fit_hz, settings)
            for index, spectrum in found.items()
        ]
        results.append(ConditionEvidence(condition=condition.name, base=base, blocks=tuple(rows)))
    return tuple(results)


def _forms(condition: Condition, regions: RegionMeasures) -> list[np.ndarray]:
    """Matrix of the condition's own measure, then of the other one; none when not measured."""
    place = condition.where
    if isinstance(place, ElectrodePlace):
        there = set(place.electrodes) <= set(regions.good)
        return [electrode_matrix(regions.good, place.electrodes)] if there else []
    if place.key not in regions.keys:
        return []
    return [regions.matrix(place.key, kind) for kind in (place.measure, OTHER[place.measure])]


def _block(
    index: int,
    condition: Condition,
    spectrum: CrossSpectrum,
    base: CrossSpectrum | None,
    forms: Sequence[np.ndarray],
    fit_hz: tuple[float, float] | None,
    settings: AperiodicSettings,
) -> BlockEvidence:
    contrasts = [_contrast(condition, spectrum, base, form) for form in forms]
    own, other = (*contrasts, None)[:2]
    above, exponent = over_slope(spectrum, forms[0], condition.band_hz, fit_hz, settings)
    return BlockEvidence(
        block=index,
        own=own,
        other=other,
        agreement=agreement(own, other),
        over_slope_db=_known(above),
        exponent=_known(exponent),
    )


def _contrast(
    condition: Condition, spectrum: CrossSpectrum, base: CrossSpectrum | None, form: np.ndarray
) -> Contrast | None:
    if base is None or base is spectrum:
        return None
    change, low, high = contrast_db(*(_level(condition, s, form) for s in (spectrum, base)))
    return Contrast(db=change, low_db=low, high_db=high)


def _level(condition: Condition, spectrum: CrossSpectrum, form: np.ndarray) -> PlacePower:
    """Power of the condition's band, over that of its reference band where it has one."""
    band, *reference = (place_power(spectrum, form, b) for b in condition.bands_hz)
    if not reference:
        return band
    # Variances of two logarithms add up: so do the inverse degrees of freedom.
    dof = 1 / (1 / band.dof + 1 / reference[0].dof)
    return PlacePower(band.power / reference[0].power, dof)


def agreement(own: Contrast | None, other: Contrast | None) -> Agreement | None:
    """Whether two measures say the same of a change."""
    if own is None or other is None:
        return None
    signs = [_sign(one) for one in (own, other)]
    if signs[0] == signs[1]:
        return "agree"
    return "not-clear" if 0 in signs else "disagree"


def _sign(contrast: Contrast) -> int:
    """1 or -1 when the interval leaves out zero, else 0."""
    return int(contrast.low_db > 0) - int(contrast.high_db < 0)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value
