from itertools import pairwise

import numpy as np
import pytest
from cases import NAMES, RATE_HZ, noise, regions
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal

from aftersit.replay import engine
from aftersit.replay.conditions import electrode_matrix
from aftersit.replay.engine import (
    Measure,
    PowerStream,
    each_electrode,
    moving_mean,
    quadratic_root,
    recent_maximum,
    step_values,
)
from aftersit.replay.filters import band_pass
from aftersit.replay.grid import Grid

MEASURES = [
    Measure(band_pass((8, 13), RATE_HZ, 4), quadratic_root(regions().matrix("insula-right"))),
    Measure(band_pass((20, 30), RATE_HZ, 4), quadratic_root(electrode_matrix(NAMES, ["T7", "O2"]))),
    Measure(band_pass((1, 40), RATE_HZ, 4), each_electrode(len(NAMES), 1e6), peak=True),
]
SAMPLES = noise(14) + 3e-4
RESTARTS = (3.3, 8.0, 9.77)


@pytest.fixture(autouse=True, scope="module")
def _short_frames():
    """Frames of 2 s, so that short recordings have several."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engine, "FRAME_STEPS", 16)
        yield


def steps_of(samples, sizes=(), update_s=0.125):
    stream = PowerStream(MEASURES, RATE_HZ, update_s, RESTARTS)
    cuts = np.cumsum([0, *sizes])
    parts = [stream.push(samples[:, a:b]) for a, b in pairwise(cuts)]
    parts += [stream.push(samples[:, cuts[-1] :]), stream.finish()]
    return np.concatenate(parts, axis=1)


@given(st.lists(st.integers(0, 400), max_size=12), st.sampled_from([0.125, 0.1, 0.037]))
@settings(max_examples=40, deadline=None)
def test_any_chunking_gives_the_same_bytes(sizes, update_s):
    whole = steps_of(SAMPLES, update_s=update_s)
    assert steps_of(SAMPLES, sizes, update_s).tobytes() == whole.tobytes()


@pytest.mark.parametrize("size", [1, 7, 256])
def test_even_chunks_give_the_same_bytes(size):
    chunked = steps_of(SAMPLES, [size] * (SAMPLES.shape[1] // size))
    assert chunked.tobytes() == steps_of(SAMPLES).tobytes()


@given(st.integers(1, 14 * 128 - 1), st.sampled_from([0.0, 1e3, -1e-9, np.nan, np.inf]))
@settings(max_examples=40, deadline=None)
def test_later_samples_never_change_earlier_output(at, poison):
    grid = Grid(0.125, RATE_HZ, SAMPLES.shape[1])
    poisoned = SAMPLES.copy()
    poisoned[:, at:] = poison
    with np.errstate(invalid="ignore"):
        after = moving_mean(step_values(poisoned, MEASURES, grid, RESTARTS), 4)
    before = moving_mean(step_values(SAMPLES, MEASURES, grid, RESTARTS), 4)
    untouched = grid.first_sample(np.arange(grid.n_rows)) <= at
    assert after[:, untouched].tobytes() == before[:, untouched].tobytes()


@given(st.integers(1, 14 * 128 - 1))
@settings(max_examples=30, deadline=None)
def test_cutting_the_recording_keeps_the_past(at):
    short = steps_of(SAMPLES[:, :at])
    assert short.shape[1] == at // 16
    assert short.tobytes() == np.ascontiguousarray(steps_of(SAMPLES)[:, : short.shape[1]]).tobytes()


def test_power_is_the_quadratic_form_of_what_scipy_filters():
    matrix = regions().matrix("insula-right")
    referenced = SAMPLES - SAMPLES.mean(axis=0)
    sos = band_pass((8, 13), RATE_HZ, 4)
    zi = signal.sosfilt_zi(sos)[:, None, :] * referenced[None, :, :1]
    y, _ = signal.sosfilt(sos, referenced, zi=zi)
    expected = np.einsum("in,ij,jn->n", y, matrix, y).reshape(-1, 16).mean(axis=1)
    stream = PowerStream(MEASURES[:1], RATE_HZ, 0.125)
    ours = np.concatenate([stream.push(SAMPLES), stream.finish()], axis=1)[0]
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


def test_a_common_signal_changes_nothing():
    common = np.cumsum(np.random.default_rng(2).normal(size=SAMPLES.shape[1])) * 1e-5
    np.testing.assert_allclose(steps_of(SAMPLES + common), steps_of(SAMPLES), rtol=1e-8)


def test_doubling_the_signal_is_four_times_the_power_to_the_bit():
    factor = np.array([[4], [4], [2]])  # a peak is no power
    np.testing.assert_array_equal(steps_of(SAMPLES * 2), steps_of(SAMPLES) * factor)


def test_a_restart_forgets_everything_before_it():
    altered = SAMPLES.copy()
    altered[:, : round(8.0 * 128)] *= -17
    after = slice(round(8.0 / 0.125), None)
    np.testing.assert_array_equal(steps_of(altered)[:, after], steps_of(SAMPLES)[:, after])


def test_moving_mean_equals_numpy_and_keeps_nan_inside_the_window():
    x = np.random.default_rng(1).normal(size=(2, 50))
    expected = np.stack([np.convolve(row, np.full(6, 1 / 6), "valid") for row in x])
    ours = moving_mean(x, 6)
    assert np.isnan(ours[:, :5]).all()
    np.testing.assert_allclose(ours[:, 5:], expected, rtol=1e-12)
    x[:, 20] = np.nan
    np.testing.assert_array_equal(
        np.flatnonzero(np.isnan(moving_mean(x, 6)[0, 5:])) + 5, range(20, 26)
    )


def test_a_peak_is_the_largest_value_that_scipy_filters():
    referenced = SAMPLES - SAMPLES.mean(axis=0)
    sos = band_pass((1, 40), RATE_HZ, 4)
    zi = signal.sosfilt_zi(sos)[:, None, :] * referenced[None, :, :1]
    y, _ = signal.sosfilt(sos, referenced * 1e6, zi=zi * 1e6)
    expected = np.abs(y).max(axis=0).reshape(-1, 16).max(axis=1)
    stream = PowerStream(MEASURES[2:], RATE_HZ, 0.125)
    ours = np.concatenate([stream.push(SAMPLES), stream.finish()], axis=1)[0]
    np.testing.assert_allclose(ours, expected, rtol=1e-9)


def test_the_recent_maximum_by_hand():
    steps = np.array([np.nan, 3, 1, 7, 2, 2, 5, 4])
    assert recent_maximum(steps, 2).tolist() == [-np.inf, 3, 3, 7, 7, 7, 5, 5]
    assert recent_maximum(steps, 0).tolist() == [-np.inf, 3, 1, 7, 2, 2, 5, 4]
    assert recent_maximum(steps[:2], 50).tolist() == [-np.inf, 3]
