"""Beside each condition: what both region measures say of its band, and bump or slope.

Contrasts count from the baseline that thresholds count from: the last one before the
block. Two measures of one region hear different mixtures. Where both show the same change
between blocks it is likelier to lie where they overlap, the region among other
places; where they do not, nothing can be said of the region.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from aftersit.blocks import Block
from aftersit.head.aperiodic import fit_range
from aftersit.head.measures import OTHER, RegionMeasures
from aftersit.head.placepower import PlacePower, contrast_db, over_slope, place_power
from aftersit.head.settings import AperiodicSettings
from aftersit.head.spectra import BlockSpectrum, CrossSpectrum
from aftersit.insight.elsewhere import block_levels_db
from aftersit.insight.longrun import compare
from aftersit.insight.segments import segment_means
from aftersit.insight.settings import InsightSettings
from aftersit.protocol import Condition, ElectrodePlace
from aftersit.quality import Carried
from aftersit.record import Agreement, BlockEvidence, ConditionEvidence, Contrast
from aftersit.replay.baseline import baseline_for
from aftersit.replay.conditions import electrode_matrix
from aftersit.replay.run import Signal


@dataclass(frozen=True)
class _Beside:
    """What one condition is looked at with."""

    condition: Condition
    forms: list[np.ndarray]
    """Matrix of the condition's own measure, then of the other one."""


def evidence(
    conditions: Sequence[Condition],
    blocks: Sequence[Block],
    spectra: Sequence[BlockSpectrum],
    regions: RegionMeasures,
    signal: Signal,
    carried: Carried,
    slopes: AperiodicSettings,
    settings: InsightSettings,
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
    signal : Signal
        Cleaned, of the same electrodes: what agreement rests on.
    carried : Carried
        What the recording holds; a band that it does not hold has no evidence.
    slopes : AperiodicSettings
    settings : InsightSettings
        Of segments and how they are compared.
    """
    found = {item.block: item.spectrum for item in spectra}
    sides = [b for b in blocks if b.index in found]
    fit_hz = fit_range(slopes, carried.high_hz)
    wanted = [
        _Beside(c, forms)
        for c in conditions
        if (forms := _forms(c, regions)) and all(carried.holds(band) for band in c.bands_hz)
    ]
    if not wanted:
        return ()
    segments = {b.index: _segments(signal, b, wanted, settings) for b in sides}
    return tuple(
        ConditionEvidence(
            condition=one.condition.name,
            blocks=tuple(
                _block(b, _base(blocks, b, found), one, found, segments, fit_hz, slopes, settings)
                for b in sides
            ),
        )
        for one in wanted
    )


def _base(
    blocks: Sequence[Block], block: Block, found: Mapping[int, CrossSpectrum]
) -> Block | None:
    """The baseline that thresholds in a block count from, where it has a spectrum."""
    base = baseline_for(blocks, block)
    return base if base and base.index in found else None


def _segments(
    signal: Signal, block: Block, wanted: Sequence[_Beside], settings: InsightSettings
) -> dict[str, np.ndarray]:
    """Levels in dB of each condition's forms, shape (n_forms, n_segments)."""
    length = round(settings.window_s * signal.rate_hz)
    bands = list(dict.fromkeys(band for one in wanted for band in one.condition.bands_hz))
    matrices = np.stack([form for one in wanted for form in one.forms])
    levels = block_levels_db(signal, block, length, bands, matrices)
    windows = max(1, round(settings.segment_s / settings.window_s))
    rows = np.cumsum([0, *(len(one.forms) for one in wanted)])
    return {
        one.condition.name: segment_means(
            _relative(levels[a:b], one.condition, bands), windows, settings.segment_known
        )
        for one, a, b in zip(wanted, rows[:-1], rows[1:], strict=True)
    }


def _relative(
    levels: np.ndarray, condition: Condition, bands: Sequence[tuple[float, float]]
) -> np.ndarray:
    """A condition's level, over that of its reference band where it has one."""
    band, *reference = (levels[:, bands.index(b)] for b in condition.bands_hz)
    with np.errstate(invalid="ignore"):
        return band - reference[0] if reference else band


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
    block: Block,
    base: Block | None,
    beside: _Beside,
    found: Mapping[int, CrossSpectrum],
    segments: Mapping[int, Mapping[str, np.ndarray]],
    fit_hz: tuple[float, float] | None,
    slopes: AperiodicSettings,
    settings: InsightSettings,
) -> BlockEvidence:
    condition, spectrum = beside.condition, found[block.index]
    own = other = together = None
    if base:
        contrasts = [_contrast(condition, spectrum, found[base.index], f) for f in beside.forms]
        own, other = (*contrasts, None)[:2]
        sides = [segments[b.index][condition.name] for b in (base, block)]
        together = agreement(*signs(*sides, settings)) if other else None
    above, exponent = over_slope(spectrum, beside.forms[0], condition.band_hz, fit_hz, slopes)
    return BlockEvidence(
        block=block.index,
        base=base and base.index,
        eyes_differ=bool(base and base.eyes != block.eyes),
        own=own,
        other=other,
        agreement=together,
        over_slope_db=_known(above),
        exponent=_known(exponent),
    )


def _contrast(
    condition: Condition, spectrum: CrossSpectrum, base: CrossSpectrum, form: np.ndarray
) -> Contrast:
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


def signs(base: np.ndarray, block: np.ndarray, settings: InsightSettings) -> tuple[int | None, ...]:
    """Which way each measure changed: 1, -1, or 0 where the interval holds zero.

    None where segments are too few. Intervals: `aftersit.insight.longrun`.

    Parameters
    ----------
    base, block : ndarray, shape (n_forms, n_segments)
        Levels in dB.
    """
    if min(base.shape[1], block.shape[1]) < settings.segments_min:
        return (None,) * len(base)
    found = compare(base, block, settings.change_cosines)
    return tuple((np.sign(found.change) * (found.low * found.high > 0)).astype(int).tolist())


def agreement(own: int | None, other: int | None) -> Agreement | None:
    """Whether two measures show the same change, from which way each changed; 0 is no change."""
    if own is None or other is None:
        return None
    if own == other:
        return "agree" if own else "neither"
    return "not-clear" if 0 in (own, other) else "disagree"


def _known(value: float) -> float | None:
    return None if np.isnan(value) else value
