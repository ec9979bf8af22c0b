"""What is said beside a condition: both measures, agreement, bump or slope."""

import numpy as np
import pytest
from cases import BLOCKS, NAMES, RATE_HZ, SETTINGS, block, condition, noise, protocol, regions

from aftersit.head.settings import AperiodicSettings
from aftersit.head.spectra import BlockSpectrum, CrossSpectrum
from aftersit.quality import Carried
from aftersit.replay.evidence import agreement, evidence, signs
from aftersit.replay.run import Signal

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


def beside(
    *spectra: CrossSpectrum,
    rule: dict | None = None,
    carried: Carried = WIDE,
    blocks=BLOCKS,
    samples=None,
    first=1,
):
    items = [BlockSpectrum(i, one) for i, one in enumerate(spectra, first)]
    rules = protocol(rule or condition()).conditions
    signal = Signal(noise(80) if samples is None else samples, NAMES, RATE_HZ)
    return evidence(rules, blocks, items, regions(), signal, carried, RULE, SETTINGS.insight)


def test_a_bump_is_told_from_a_flatter_spectrum():
    """Alpha power rises in both; only the bump stands over its slope."""
    ((found),) = beside(spectrum(1.4), spectrum(1.4, 6.0), spectrum(0.6))
    base, bump, flat = found.blocks
    assert (base.own, base.base, bump.base, flat.base) == (None, None, 1, 1)
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
    (found,) = beside(spectrum(1.3), first=2)
    assert (found.blocks[0].base, found.blocks[0].own) == (None, None)
    assert found.blocks[0].exponent == pytest.approx(1.3, abs=0.05)


def test_each_block_counts_from_the_last_baseline_before_it():
    """As its threshold does; where eyes differ the row says so."""
    blocks = [
        block(1, "baseline", 0, 20),
        block(2, "practice", 20, 40),
        block(3, "baseline", 40, 60, "open"),
        block(4, "practice", 60, 80),
    ]
    loud = spectrum(1.4)
    loud = CrossSpectrum(FREQUENCY_HZ, 1.7 * loud.density, 99, 100.0, loud.dof)
    (found,) = beside(spectrum(1.4), spectrum(1.4), loud, loud, blocks=blocks)
    rows = [(b.block, b.base, b.eyes_differ) for b in found.blocks]
    assert rows == [(1, None, False), (2, 1, False), (3, 1, True), (4, 3, True)]
    assert found.blocks[3].own.db == pytest.approx(0, abs=1e-9)
    assert found.blocks[2].own.db == pytest.approx(10 * np.log10(1.7), rel=1e-6)


@pytest.mark.parametrize(
    ("own", "other", "expected"),
    [
        (1, 1, "agree"),
        (0, 0, "neither"),
        (-1, -1, "agree"),
        (1, 0, "not-clear"),
        (1, -1, "disagree"),
        (1, None, None),
    ],
)
def test_agreement(own, other, expected):
    assert agreement(own, other) == expected


def test_which_way_a_measure_changed_allows_for_drift():
    """A jump of 3 dB is seen; a drift as large as it within each block is none."""
    rng = np.random.default_rng(6)
    base, block_ = rng.normal(0, 0.3, (2, 24)), rng.normal(0, 0.3, (2, 20))
    assert signs(base, block_ + np.array([[3.0], [-3.0]]), SETTINGS.insight) == (1, -1)
    drift = np.linspace(-4, 4, 24), np.linspace(-2.5, 5.5, 20)
    assert signs(base + drift[0], block_ + drift[1], SETTINGS.insight) == (0, 0)
    assert signs(base[:, :4], block_ + 3, SETTINGS.insight) == (None, None)


def test_both_measures_of_what_is_louder_everywhere_agree():
    samples = noise(80)
    samples[:, round(20 * RATE_HZ) :] *= 2
    (found,) = beside(spectrum(1.4), spectrum(1.4), spectrum(1.4), samples=samples)
    base, practice, short = found.blocks
    assert (base.agreement, practice.agreement) == (None, "agree")
    assert short.agreement is None  # 6 s hold no 6 segments of 2 s
