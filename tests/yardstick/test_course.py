"""A row of sittings: when a direction may be told, and how far neighbours lie apart."""

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from aftersit.yardstick.course import ALPHA, LEAST_SITTINGS, direction, scatter

RISING = [0.11, 0.17, 0.24, 0.32, 0.41]


@pytest.mark.parametrize("n", range(1, LEAST_SITTINGS))
def test_fewer_than_five_sittings_are_too_few(n):
    """Counted out: of n values the share of orders as clear as a steady rise or fall."""
    assert direction(RISING[:n]) == ("too-early", None)
    orders = list(permutations(range(n)))
    clearest = sum(o in (tuple(range(n)), tuple(range(n))[::-1]) for o in orders)
    assert clearest / len(orders) > ALPHA


def test_five_in_a_row_may_be_told():
    """2 of 120 orders are as clear (Kendall 1938)."""
    way, p = direction(RISING)
    assert way == "longer"
    assert p == pytest.approx(2 / 120)
    assert direction(RISING[::-1]) == ("shorter", pytest.approx(2 / 120))


def test_a_mixed_row_has_no_direction():
    assert direction([0.31, 0.22, 0.35, 0.18, 0.29])[0] == "no-direction"
    assert direction([0.2] * 6)[0] == "no-direction"


@pytest.mark.parametrize(
    ("values", "p"),
    [
        ([0, 0, 0.1, 0.1, 0.2], 2 / 30),
        ([0.1, 0.1, 0.1, 0.2, 0.2, 0.2], 2 / 20),
        ([0, 0, 0.1, 0.2, 0.3, 0.4, 0.5], 2 / 2520),
    ],
)
def test_equal_values_are_allowed_for_by_counting_orders(values, p):
    """Orders of 5!/(2! 2!), 6!/(3! 3!) and 7!/2!, of which one rises and one falls all along."""
    way, found = direction(values)
    assert found == pytest.approx(p, rel=1e-9)
    assert way == ("longer" if p < ALPHA else "no-direction")


def test_false_alarms_stay_below_their_promise():
    """Random orders: at most 5 % may be told as a direction."""
    rng = np.random.default_rng(11)
    told = [direction(rng.random(6).tolist())[0] != "no-direction" for _ in range(2000)]
    assert np.mean(told) < ALPHA + 3 * np.sqrt(ALPHA * (1 - ALPHA) / 2000)


@settings(deadline=None)  # short rows with equal values have all their orders counted
@given(st.lists(st.floats(0.05, 0.95), min_size=5, max_size=12), st.floats(0.5, 3))
def test_only_the_order_matters(values, power):
    assert direction(values)[0] == direction([v**power for v in values])[0] or len(
        set(values)
    ) != len({v**power for v in values})


def test_scatter_is_that_of_independent_values_and_a_slow_rise_leaves_it_alone():
    rng = np.random.default_rng(7)
    apart = rng.normal(0.4, 0.08, 4000)
    assert scatter(apart) == pytest.approx(0.08, rel=0.05)
    assert scatter(apart + np.linspace(0, 0.3, 4000)) == pytest.approx(0.08, rel=0.05)
    assert scatter([0.3, 0.4]) is None
