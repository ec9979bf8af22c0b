import numpy as np

from aftersit.bench import heads
from aftersit.electrodes import STANDARD_19
from aftersit.head.model import Head

RADIUS_MM = 93.0


def on_a_sphere(n=340):
    """Points spread evenly by the golden angle, named; potentials that are linear in place."""
    k = np.arange(n) + 0.5
    height, turn = 1 - 1.4 * k / n, np.pi * (1 + 5**0.5) * k
    flat = np.sqrt(1 - height**2)
    place = RADIUS_MM * np.stack([flat * np.cos(turn), flat * np.sin(turn), height], axis=1)
    names = (*STANDARD_19, *(f"x{i}" for i in range(n - 19)))
    moments = np.random.default_rng(3).standard_normal((3, 7))
    nothing = np.zeros(7)
    return moments, Head(names, place @ moments, *(nothing,) * 6, electrode_mm=place)


def test_electrodes_are_misplaced_along_the_scalp_by_5_to_10_mm():
    _, dense = on_a_sphere()
    places = heads._misplaced(dense, 12)
    true = dense.electrode_mm[:19]
    away = np.linalg.norm(places - true, axis=1)
    assert away.min() >= 5 - 1e-9
    assert away.max() <= 10 + 1e-9
    # Pythagoras: a step of 10 mm along the tangent leaves the sphere by 0.54 mm.
    assert np.abs(np.linalg.norm(places, axis=1) - RADIUS_MM).max() < 1.5
    assert not np.allclose(places, heads._misplaced(dense, 13))


def test_potentials_between_electrodes_are_exact_where_they_are_linear():
    # Thin-plate splines hold all linear functions (Duchon 1977; from memory).
    moments, dense = on_a_sphere()
    places = heads._misplaced(dense, 12)
    np.testing.assert_allclose(heads._between(dense, places), places @ moments, rtol=1e-6)


def test_fewer_heads_are_the_first_of_more_and_conductivities_spread():
    many = heads.plans(6, 77)
    assert heads.plans(3, 77) == many[:3]
    ratios = sorted(plan.ratio for plan in many)
    assert heads.RATIO[0] <= ratios[0] < 25
    assert 55 < ratios[-1] <= heads.RATIO[1]
    assert all(heads.SIZE[0] <= plan.size <= heads.SIZE[1] for plan in many)


def test_the_template_head_is_the_one_that_is_kept(head):
    np.testing.assert_array_equal(heads.template_head().gain, head.gain)
