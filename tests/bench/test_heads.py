import numpy as np

from aftersit.bench import heads

RADIUS_MM = 93.0


def on_a_sphere(n=340):
    """Points spread evenly over the upper part by the golden angle, shape (n, 3)."""
    k = np.arange(n) + 0.5
    height, turn = 1 - 1.4 * k / n, np.pi * (1 + 5**0.5) * k
    flat = np.sqrt(1 - height**2)
    return RADIUS_MM * np.stack([flat * np.cos(turn), flat * np.sin(turn), height], axis=1)


def test_electrodes_are_misplaced_along_the_scalp_by_5_to_10_mm():
    scalp, rng = on_a_sphere(), np.random.default_rng(12)
    true = scalp[5:200:11]
    places = np.array([heads._moved(place, scalp, rng) for place in true])
    away = np.linalg.norm(places - true, axis=1)
    assert away.min() >= 5 - 1e-9
    assert away.max() <= 10 + 1e-9
    # Pythagoras: a step of 10 mm along the tangent leaves the sphere by 0.54 mm.
    assert np.abs(np.linalg.norm(places, axis=1) - RADIUS_MM).max() < 1.5


def test_places_are_the_same_for_a_seed():
    np.testing.assert_array_equal(heads._misplaced(5), heads._misplaced(5))
    assert not np.allclose(heads._misplaced(5), heads._misplaced(6))


def test_fewer_heads_are_the_first_of_more_and_conductivities_spread():
    many = heads.plans(6, 77)
    assert heads.plans(3, 77) == many[:3]
    ratios = sorted(plan.ratio for plan in many)
    assert heads.RATIO[0] <= ratios[0] < 25
    assert 55 < ratios[-1] <= heads.RATIO[1]
    assert all(heads.SIZE[0] <= plan.size <= heads.SIZE[1] for plan in many)


def test_the_template_head_is_the_one_that_is_kept(head):
    np.testing.assert_array_equal(heads.template_head().gain, head.gain)
