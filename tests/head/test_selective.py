"""The selective measure: best on its trade, checked by another solver and by definition."""

import numpy as np
import pytest
import scipy.optimize

from aftersit.head import selective
from aftersit.head.cortex import even_cortex
from aftersit.head.hearing import coverage
from aftersit.head.region_set import shipped_regions

KEY = "superiorfrontal-left"


@pytest.fixture(scope="module")
def cortex(head, settings):
    return even_cortex(head, head.names, settings.limit_noise_share)


@pytest.mark.parametrize("price", [0.1, 0.45])
def test_another_solver_finds_no_lower_cost(cortex, price):
    """Quasi-Newton over all 18 directions, X = V V', from scipy."""
    inside = shipped_regions().members(KEY, cortex.region, cortex.hemisphere)
    area = cortex.area_mm2[inside] / cortex.area_mm2[inside].sum()
    heard = cortex.whitener @ cortex.gain[:, inside]
    limit = np.linalg.eigvalsh(heard @ heard.T)[-1]

    def cost(form):
        miss = np.sum(heard * (form @ heard), axis=0) / area - 1
        slope = (heard * miss) @ heard.T + price * limit * np.eye(18)
        return 0.5 * area @ miss**2 + price * limit * np.trace(form), slope

    def cost_of_root(flat):
        root = flat.reshape(18, 18)
        value, slope = cost(root @ root.T)
        return value, (2 * slope @ root).ravel()

    start = np.eye(18).ravel() * 3
    theirs = scipy.optimize.minimize(cost_of_root, start, jac=True, options={"gtol": 1e-7}).fun
    problem = selective.trade(cortex, [KEY], shipped_regions())
    (found,) = selective.matrices(problem, selective.solve(problem, np.array([price])))
    back = np.linalg.pinv(cortex.whitener)
    assert cost(back.T @ found @ back)[0] == pytest.approx(theirs, rel=2e-3)


def test_curve_runs_from_even_to_pure(measures):
    assert (np.diff(measures.curve.purity, axis=1) > -2e-3).all()
    assert (np.diff(measures.curve.coverage, axis=1) < 5e-3).all()
    np.testing.assert_allclose(measures.curve.purity[:, -1], measures.limit, rtol=0.02)


def test_single_best_filter_hears_a_small_part_of_its_region(head, cortex):
    """Half of its output from about a tenth of superior frontal cortex (own computation, apart)."""
    inside = shipped_regions().members(KEY, head.region, head.hemisphere)
    problem = selective.trade(cortex, [KEY], shipped_regions())
    (best,) = selective.matrices(problem, selective.curve(problem)[-1])
    assert area_of_half(best, cortex, inside) == pytest.approx(0.1, abs=0.03)


def test_sloreta_hears_about_a_third(cortex, measures):
    """Half of its output from about a third of superior frontal cortex (own computation, apart)."""
    inside = shipped_regions().members(KEY, cortex.region, cortex.hemisphere)
    assert area_of_half(measures.matrix(KEY), cortex, inside) == pytest.approx(1 / 3, abs=0.03)


def area_of_half(matrix, cortex, inside) -> float:
    """Smallest part of the region's area that half of what is heard of it comes from."""
    gain, area = cortex.gain[:, inside], cortex.area_mm2[inside]
    power = np.sum(gain * (matrix @ gain), axis=0)
    order = np.argsort(-power / area)
    parts, areas = np.cumsum(power[order]) / power.sum(), np.cumsum(area[order]) / area.sum()
    return float(np.interp(0.5, parts, areas))


def test_purer_than_sloreta_everywhere_while_it_hears_enough(measures, settings):
    chosen, plain = measures.selective, measures.sloreta
    least = np.minimum(plain.coverage, settings.selective_coverage)
    assert (chosen.purity > 1.1 * plain.purity).all()
    assert (chosen.coverage > least - 1e-3).all()


def test_both_kinds_have_one_unit(measures, settings):
    """A measure is 1 for noise of 0.2 uV and nine times as much power of an even cortex."""
    noise_v2 = 0.2e-6**2
    brain = measures.covariance * 18 * 9 / np.trace(measures.covariance)
    expected = noise_v2 * (brain + np.eye(19) - 1 / 19)
    for kind in ("sloreta", "selective"):
        values = np.einsum("kij,ij->k", measures.of(kind).matrices, expected)
        np.testing.assert_allclose(values, 1, rtol=1e-9)


@pytest.mark.parametrize(
    ("power", "area", "expected"),
    [
        ([2.0, 3.0, 5.0], [20.0, 30.0, 50.0], 1.0),
        ([4.0, 6.0, 0.0], [20.0, 30.0, 50.0], 0.5),
        ([3.0, 1.0], [5.0, 5.0], 0.8),
    ],
)
def test_coverage_by_hand(power, area, expected):
    """Alike everywhere; alike in half; Kish: (3 + 1)^2 / (9 + 1) / 2."""
    assert coverage(np.array(power), np.array(area)) == pytest.approx(expected)


@pytest.mark.parametrize("kind", ["sloreta", "selective"])
def test_noise_gain_by_simulation(head, measures, kind):
    """Noise and an even cortex through electrodes and measure; decibels between the ratios."""
    rng = np.random.default_rng(21)
    brain = head.gain @ rng.normal(size=(head.gain.shape[1], 3000)).astype(np.float32)
    brain -= brain.mean(axis=0)
    noise = rng.normal(size=brain.shape)
    noise -= noise.mean(axis=0)
    at_electrodes = np.mean(noise**2) / np.mean(brain**2)
    matrix = measures.matrix(KEY, kind)
    in_measure = np.sum(noise * (matrix @ noise)) / np.sum(brain * (matrix @ brain))
    expected = 10 * np.log10(in_measure / at_electrodes)
    assert measures.heard(KEY, kind).noise_gain_db == pytest.approx(expected, abs=0.3)


def test_separability_is_own_side_over_other(head, measures):
    own, other = (
        _heard_from(head, measures.matrix("precentral-left"), side) for side in ("left", "right")
    )
    expected = 10 * np.log10(own / other)
    assert measures.heard("precentral-left").other_side_db == pytest.approx(expected, rel=1e-6)
    assert measures.heard("precentral-both").other_side_db is None


def _heard_from(head, matrix, side) -> float:
    gain = head.gain[:, (head.region == "precentral") & (head.hemisphere == side)]
    return np.sum(gain * (matrix @ gain))
