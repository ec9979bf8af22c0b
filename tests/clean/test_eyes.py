"""Eyes taken out where they are: blinks go, what lies between them and above them stays."""

import numpy as np
import pytest
from simulated import NAMES, SETTINGS, band_power, blinks, change_db, field, quiet

from aftersit.clean import filters
from aftersit.clean.components import EyeComponents
from aftersit.clean.eyes import take_out_eyes

LIMITS = SETTINGS.components
RATE_HZ = 256
RECORDING = quiet(90, number=17)
BRAIN = filters.high_pass(RECORDING.x - RECORDING.x.mean(axis=0), RATE_HZ, 0.5)
BLINKS = filters.high_pass(blinks(RECORDING, 140, 5), RATE_HZ, 0.5)
BLINKS = BLINKS - BLINKS.mean(axis=0)
FRONT = NAMES.index("Fp1")


def eyes() -> EyeComponents:
    """The blinks' own map, and the filter that hears least beside it (minimum variance)."""
    front = field(np.array([0.0, 1.3, -0.4]), 0.5)
    front = (front - front.mean())[:, None]
    x = BRAIN + BLINKS
    inverse = np.linalg.pinv(x @ x.T / x.shape[1], rcond=1e-6)
    return EyeComponents(front.T @ inverse / (front.T @ inverse @ front), front)


def without_eyes(x: np.ndarray, components: EyeComponents) -> np.ndarray:
    out = x.copy()
    take_out_eyes(out, x, components, RATE_HZ, LIMITS)
    return out


def test_blinks_go():
    left = without_eyes(BRAIN + BLINKS, eyes()) - BRAIN
    change = change_db(band_power(left, RATE_HZ, 0.5, 8), band_power(BLINKS, RATE_HZ, 0.5, 8))
    assert change[FRONT] < -15


@pytest.mark.parametrize(("band", "limit_db"), [((8, 13), 0.3), ((13, 30), 0.1), ((30, 45), 0.02)])
def test_what_is_faster_than_eyes_stays(band, limit_db):
    out = without_eyes(BRAIN + BLINKS, eyes())
    change = change_db(band_power(out, RATE_HZ, *band), band_power(BRAIN, RATE_HZ, *band))
    assert np.abs(change).max() < limit_db


def test_where_eyes_are_quiet_nothing_changes():
    x = BRAIN + BLINKS
    changed = np.abs(without_eyes(x, eyes()) - x).max(axis=0) > 1e-6
    assert 0.05 < changed.mean() < 0.5
    assert not np.abs(BLINKS[FRONT][~changed]).max() > 60


def test_without_blinks_next_to_nothing_is_taken():
    change = change_db(
        band_power(without_eyes(BRAIN, eyes()), RATE_HZ, 1, 8), band_power(BRAIN, RATE_HZ, 1, 8)
    )
    assert np.abs(change).max() < 0.3


def test_no_eye_components_take_nothing():
    none = EyeComponents(np.zeros((0, 19)), np.zeros((19, 0)))
    np.testing.assert_array_equal(without_eyes(BRAIN, none), BRAIN)
