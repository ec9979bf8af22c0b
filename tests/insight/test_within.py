import numpy as np
import pytest
from scipy import signal

from aftersit.insight.within import difference_within

SEED = 20260601


def ar1(phi, shape, rng):
    noise = rng.normal(size=(*shape[:-1], shape[-1] + 500))
    return signal.lfilter([np.sqrt(1 - phi**2)], [1, -phi], noise)[..., 500:]


def test_of_whole_windows_it_is_the_difference_of_their_means():
    rng = np.random.default_rng(SEED)
    level, off = rng.normal(size=(3, 41)), np.arange(41) % 3 > 0
    found = difference_within([level], [off * 1.0], 6)
    expected = level[:, off].mean(axis=1) - level[:, ~off].mean(axis=1)
    assert found.change == pytest.approx(expected)
    assert (found.low < found.change).all()
    assert (found.change < found.high).all()


def test_blocks_that_differ_as_a_whole_add_nothing():
    rng = np.random.default_rng(SEED + 1)
    levels = [rng.normal(size=(2, n)) for n in (30, 44)]
    parts = [rng.uniform(size=n) for n in (30, 44)]
    one = difference_within(levels, parts, 6)
    other = difference_within([levels[0] + 7.5, levels[1] - 2], [parts[0] * 0.5, parts[1]], 6)
    again = difference_within(levels, [parts[0] * 0.5, parts[1]], 6)
    assert other.p == pytest.approx(again.p)
    assert one.p != pytest.approx(again.p)


def test_slope_and_its_error_are_those_of_least_squares_with_leverage():
    """HC3 by its own matrices (MacKinnon and White 1985); all cosines make the series white."""
    rng = np.random.default_rng(SEED + 2)
    n, second = 61, np.arange(61) >= 33
    part, level = rng.uniform(size=n) ** 3, rng.normal(size=n)
    design = np.stack([~second, second, part], axis=1).astype(float)
    inverse = np.linalg.inv(design.T @ design)
    slope = (inverse @ design.T @ level)[2]
    hat = np.einsum("ij,jk,ik->i", design, inverse, design)
    residual = (level - design @ (inverse @ design.T @ level)) / (1 - hat)
    error = np.sqrt((inverse @ (design.T * residual**2) @ design @ inverse)[2, 2])
    found = difference_within(
        [level[~second], level[second]], [part[~second], part[second]], 27, confidence=0.6827
    )
    assert found.change == pytest.approx(slope)
    assert (found.high - found.low) / 2 == pytest.approx(error, rel=0.06)


@pytest.mark.parametrize("phi", [0.5, 0.9])
def test_false_alarms_stay_low_where_nothing_differs(phi):
    """Levels with memory, and bouts of a few seconds that know nothing of them; two blocks."""
    rng, p = np.random.default_rng(SEED + 3), []
    for _ in range(80):
        levels = [ar1(phi, (40, 45), rng) for _ in range(2)]
        parts = [(ar1(0.5, (45,), rng) > 0.5) * 1.0 for _ in range(2)]
        p.append(difference_within(levels, parts, 6).p)
    assert (np.concatenate(p) < 0.05).mean() <= 0.075
    assert (np.concatenate(p) < 0.001).mean() <= 0.003


def test_a_level_that_never_varies_tells_nothing():
    found = difference_within([np.full((1, 20), 3.7)], [np.arange(20) % 2 * 0.8], 6)
    assert (found.change[0], found.p[0]) == (pytest.approx(0, abs=1e-12), 1)
