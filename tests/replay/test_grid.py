import numpy as np
import pytest

from aftersit.errors import AftersitError
from aftersit.replay.grid import Grid, samples_before


@pytest.mark.parametrize("rate_hz", [128, 160, 250, 250.5, 256, 499.99, 512])
def test_a_decision_sees_exactly_the_samples_before_it(rate_hz):
    times = np.arange(1, 400) * 0.3
    seen = samples_before(times, rate_hz)
    assert np.all((seen - 1) / rate_hz < times)
    assert np.all(seen / rate_hz >= times - 1e-7)


def test_times_do_not_depend_on_the_rate():
    slow, fast = Grid(0.125, 160, 160 * 7), Grid(0.125, 250, 250 * 7)
    np.testing.assert_array_equal(slow.times_s, fast.times_s)
    assert slow.n_rows == 56


def test_an_incomplete_last_step_still_has_its_row():
    assert Grid(0.25, 100, 1010).n_rows == 41


def test_a_step_below_one_sample_is_refused():
    with pytest.raises(
        AftersitError, match=r"update_s 0\.01 is shorter .* at 64 Hz.*at least 0\.0157$"
    ):
        Grid(0.01, 64, 640)
