"""What is said beside a condition: both measures, agreement, bump or slope."""

import numpy as np
import pytest
from cases import BLOCKS, NAMES, condition, protocol, regions

from aftersit.head.settings import AperiodicSettings
from aftersit.head.spectra import BlockSpectrum, CrossSpectrum
from aftersit.quality import Carried
from aftersit.record import Contrast
from aftersit.replay.evidence import agreement, evidence

FREQUENCY_HZ = np.arange(0.5, 60, 0.5)
RULE = AperiodicSettings(
    low_hz=2,
    high_hz=40,
    least_high_hz=25,
    max_peaks=4,
    min_peak_db=1,
    peak_width_hz=(1, 12),
    least_r_squared=0.8,
)
WIDE = Carried(low_hz=0.5, high_hz=60)


def spectrum(exponent: float, bump_db: float = 0.0, dof: float = 400.0) -> CrossSpectrum:
    """Alike at all electrodes and apart; a bump at 10 Hz on 1 / f^exponent."""
    bump = bump_db / 10 * np.exp(-((FREQUENCY_HZ - 10) ** 2) / 2 / 1.5**2)
    density = 1e-12 * FREQUENCY_HZ**-exponent * 10**bump
    each = np.eye(len(NAMES)) - 1 / len(NAMES)
    return CrossSpectrum(FREQUENCY_HZ, density[:, None, None] * each, 99, 100.0, dof)


def beside(*spectra: CrossSpectrum, rule: dict | None = None, carried: Carried = WIDE):
    items = [BlockSpectrum(i, one) for i, one in enumerate(spectra, 1)]
    rules = protocol(rule or condition()).conditions
    return evidence(rules, BLOCKS, items, regions(), carried, RULE)


def test_a_bump_is_told_from_a_flatter_spectrum():
    """Alpha power rises in both; only the bump stands over its slope."""
    ((found),) = beside(spectrum(1.4), spectrum(1.4, 6.0), spectrum(0.6))
    base, bump, flat = found.blocks
    assert (base.own, found.base) == (None, 1)
    assert min(bump.own.db, flat.own.db) > 3
    assert bump.over_slope_db > 3 > 0.5 > abs(flat.over_slope_db)
    assert [b.exponent for b in found.blocks] == pytest.approx([1.4, 1.4, 0.6], abs=0.05)


def test_contrast_is_the_ratio_of_powers_with_chi_squared_s_spread():
    """ln P of nu degrees has variance 2 / nu to first order; 10 / ln 10 dB each."""
    louder = spectrum(1.4)
    louder = CrossSpectrum(FREQUENCY_HZ, 1.7 * louder.density, 99, 100.0, louder.dof)
    (found,) = beside(spectrum(1.4), louder)
    change = found.blocks[1].own
    assert change.db == pytest.approx(10 * np.log10(1.7), rel=1e-6)
    assert change.high_db - change.db == pytest.approx(change.db - change.low_db)
    assert change.low_db > 0


def test_relative_power_does_not_see_what_rises_everywhere():
    louder = spectrum(1.4)
    louder = CrossSpectrum(FREQUENCY_HZ, 1.7 * louder.density, 99, 100.0, louder.dof)
    rule = condition() | {"relative_to_hz": [2, 30]}
    (found,) = beside(spectrum(1.4), louder, rule=rule)
    assert found.blocks[1].own.db == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(
    ("rule", "carried"),
    [
        (condition(where={"region": "nowhere"}), WIDE),
        (condition(where={"electrodes": ["Cz", "Pz"]}), WIDE),
        (condition(band=(30, 48)), Carried(low_hz=0.5, high_hz=40)),
    ],
)
def test_what_can_t_be_measured_has_no_evidence(rule, carried):
    assert beside(spectrum(1.4), spectrum(1.2), rule=rule, carried=carried) == ()


def test_without_a_baseline_there_is_no_contrast_but_a_slope():
    items = [BlockSpectrum(2, spectrum(1.3))]
    (found,) = evidence(protocol(condition()).conditions, BLOCKS, items, regions(), WIDE, RULE)
    assert (found.base, found.blocks[0].own) == (None, None)
    assert found.blocks[0].exponent == pytest.approx(1.3, abs=0.05)


@pytest.mark.parametrize(
    ("own", "other", "expected"),
    [
        ((1.1, 2.3), (0.2, 4.0), "agree"),
        ((-0.4, 2.3), (-1.2, 0.7), "agree"),
        ((1.1, 2.3), (-0.2, 4.0), "not-clear"),
        ((1.1, 2.3), (-4.0, -0.3), "disagree"),
        ((1.1, 2.3), None, None),
    ],
)
def test_agreement(own, other, expected):
    contrasts = [
        one and Contrast(db=sum(one) / 2, low_db=one[0], high_db=one[1]) for one in (own, other)
    ]
    assert agreement(*contrasts) == expected
