"""Slow rolling eyes on a few slow derivations."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import signal
from simulated import NAMES, quiet

from aftersit.clean.slow_eyes import carries_rolling, rolls_db, sees_eyes, slow_copy

ROLLS_DB = 4.0
"""The setting `replay.drowsy.rolls_db`: from here on it is called rolling."""
RATE_HZ = 200.0
SECONDS = 90
AT_S = np.arange(20.0, 71.0, 2.0)


@pytest.fixture(scope="module")
def resting():
    return quiet(SECONDS, RATE_HZ, number=11).x


def eyes(shape, left=-1.0, right=1.0, **elsewhere) -> np.ndarray:
    """A trace in uV at F7 and F8, a third of it at Fp1 and Fp2, shape (19, n_samples)."""
    gains = {"F7": left, "F8": right, "Fp1": left / 3, "Fp2": right / 3, **elsewhere}
    x = np.zeros((19, shape.size))
    for name, gain in gains.items():
        x[NAMES.index(name)] += gain * shape
    return x


def sine(f_hz: float, size_uv: float) -> np.ndarray:
    return size_uv * np.sin(2 * np.pi * f_hz * np.arange(round(SECONDS * RATE_HZ)) / RATE_HZ)


def saccades(size_uv: float) -> np.ndarray:
    """Steps to and fro, every 0.7-2.6 s, as in looking round."""
    rng = np.random.default_rng(7)
    at = np.cumsum(rng.uniform(0.7, 2.6, 80) * RATE_HZ).astype(int)
    gaze = np.zeros(round(SECONDS * RATE_HZ))
    for start, to in zip(at[at < gaze.size], rng.uniform(-1, 1, 80), strict=False):
        gaze[start:] = size_uv * to
    return gaze


def seen(x) -> np.ndarray:
    return rolls_db(slow_copy(x, NAMES, RATE_HZ), NAMES, AT_S)


@pytest.mark.parametrize("f_hz", [0.21, 0.33, 0.47, 0.58])
def test_slow_waves_against_each_other_at_f7_and_f8_are_rolling(resting, f_hz):
    assert seen(resting + eyes(sine(f_hz, 35))).min() > ROLLS_DB


CASES = {
    "rest": np.zeros((19, round(SECONDS * RATE_HZ))),
    "both sides alike, as lids": eyes(sine(0.33, 60), left=1.0),
    "one side only, as a loose electrode": eyes(sine(0.33, 60), left=0.0),
    "the whole side of the head": eyes(sine(0.33, 60), T7=-1, T8=1, P7=-1, P8=1),
    "faster": eyes(sine(1.3, 35)),
    "slower": eyes(sine(0.04, 90)),
    "steps": eyes(saccades(60)),
}


@pytest.mark.parametrize("name", CASES)
def test_other_slow_waves_are_not(resting, name):
    values = seen(resting + CASES[name])
    assert np.median(values) < ROLLS_DB - 2
    assert (values > ROLLS_DB).mean() < 0.05


@settings(max_examples=15, deadline=None)
@given(st.floats(0.02, 70), st.floats(-300, 300))
def test_neither_scale_nor_reference_nor_offset_matter(factor, shift):
    x = quiet(30, RATE_HZ, number=12).x + eyes(sine(0.3, 20))[:, : round(30 * RATE_HZ)]
    at = np.array([6.5, 15.0, 22.25])
    other = factor * (x - x[NAMES.index("T8")] * 0.4) + shift
    expected = rolls_db(slow_copy(x, NAMES, RATE_HZ), NAMES, at)
    found = rolls_db(slow_copy(other, NAMES, RATE_HZ), NAMES, at)
    np.testing.assert_allclose(found, expected, atol=1e-6)


def test_a_pair_further_in_serves_where_the_first_is_bad(resting):
    x = resting + eyes(sine(0.33, 35))
    copy = slow_copy(x, NAMES, RATE_HZ)
    without = [name for name in NAMES if name not in ("P7", "P4", "Cz")]
    assert sees_eyes(copy, without)
    assert rolls_db(copy, without, AT_S).min() > ROLLS_DB


@pytest.mark.parametrize("bad", [("F7",), ("F8",), ("C3", "Cz", "C4"), ("P7", "P4", "O1")])
def test_without_what_it_needs_nothing_is_seen(resting, bad):
    good = [name for name in NAMES if name not in bad]
    assert not sees_eyes(slow_copy(resting, NAMES, RATE_HZ), good)
    assert sees_eyes(slow_copy(resting, NAMES, RATE_HZ), NAMES)


@pytest.mark.parametrize(
    ("order", "cutoff_hz", "carried"),
    # First-order high-passes as in amplifiers (0.1 Hz, time constant 1.6 s) leave it;
    # steep or higher ones take it.
    [(1, 0.1, True), (1, 0.16, True), (4, 0.8, False), (2, 1.0, False)],
)
def test_a_high_pass_that_no_header_names_is_noticed(resting, order, cutoff_hz, carried):
    sos = signal.butter(order, cutoff_hz, "highpass", fs=RATE_HZ, output="sos")
    x = signal.sosfilt(sos, resting)
    assert carries_rolling(slow_copy(x, NAMES, RATE_HZ), None) is carried


def test_a_header_that_names_one_is_believed(resting):
    copy = slow_copy(resting, NAMES, RATE_HZ)
    assert carries_rolling(copy, None)
    assert carries_rolling(copy, 0.16)
    assert not carries_rolling(copy, 0.5)
