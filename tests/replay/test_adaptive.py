import numpy as np
import pytest
from cases import block, condition, protocol
from hypothesis import given
from hypothesis import strategies as st

from aftersit.protocol_rules import Adaptive
from aftersit.replay.adaptive import adapted, step_db
from aftersit.replay.baseline import Threshold
from aftersit.replay.grid import Grid
from aftersit.replay.run import Values, score


def decibels(thresholds, start):
    return 10 * np.log10(thresholds / start)


def test_the_threshold_moves_by_hand():
    # Target 0.75, step 0.4 dB: up 0.1 where met, down 0.3 where not; NaN moves nothing.
    value = np.array([9, 1, 9, np.nan, np.nan, 1, 1, 9.0])
    found = decibels(adapted(value, 4.0, "above", 0.75, 0.4), 4.0)
    np.testing.assert_allclose(found, [0, 0.1, -0.2, -0.1, -0.1, -0.1, -0.4, -0.7, -0.6], atol=1e-9)


def test_a_condition_from_below_is_tightened_downwards():
    found = decibels(adapted(np.array([1, 9.0]), 4.0, "below", 0.75, 0.4), 4.0)
    np.testing.assert_allclose(found, [0, -0.1, 0.2], atol=1e-9)


def test_the_speed_is_what_the_protocol_states():
    rule = Adaptive(target_rate=0.6, speed_db_per_min=3, start={"absolute": 5})
    minute = np.full(480, 0.01)  # never met, 8 decisions a second
    found = adapted(minute, 5.0, "above", 0.6, step_db(rule, 0.125))
    assert decibels(found[-1], 5.0) == pytest.approx(-3 * 0.6)


@given(st.integers(1, 59), st.floats(0.1, 50))
def test_later_values_never_change_an_earlier_threshold(at, other):
    value = np.random.default_rng(7).gamma(3, size=60)
    poisoned = value.copy()
    poisoned[at:] = other
    one, two = (adapted(v, 2.0, "above", 0.7, 0.05) for v in (value, poisoned))
    assert one[: at + 1].tobytes() == two[: at + 1].tobytes()


def test_it_goes_on_over_blocks_until_the_baseline_changes():
    moves = {"target_rate": 0.5, "speed_db_per_min": 48, "start": {"absolute": 2.0}}
    rules = protocol(condition(adaptive=moves), update_s=0.5, smoothing_s=0.5)  # step 0.4 dB
    blocks = [block(i, "practice", 2 * i - 2, 2 * i) for i in (1, 2, 3)]
    values = Values(Grid(0.5, 10, 60), np.full((1, 12), 9.0), *np.zeros((3, 12), bool))
    starts = {i: [Threshold(None, start, None)] for i, start in ((1, 2.0), (2, 2.0), (3, 3.0))}
    timeline = score(values, rules, rules.conditions, blocks, starts)
    moved = np.array([0, 0.2, 0.4, 0.6, 0.8, 1.0, 1.2, 1.4])
    np.testing.assert_allclose(decibels(timeline.threshold[0, :8], 2.0), moved, atol=1e-9)
    np.testing.assert_allclose(decibels(timeline.threshold[0, 8:], 3.0), moved[:4], atol=1e-9)
