"""False alarms where nothing happened: open rest recordings, cut in pieces."""

import numpy as np
import pytest
from cases import quality, regions
from open_edf import read_edf
from scipy import signal

from aftersit.blocks import Block
from aftersit.electrodes import STANDARD_19
from aftersit.insight.breaks import Break
from aftersit.insight.elsewhere import RegionScan
from aftersit.replay.run import Signal
from aftersit.settings import load_settings
from aftersit.sheet import Kind

PEOPLE = ("Subject00_1", "Subject01_1", "Subject02_1", "Subject03_1")


@pytest.mark.open_data
def test_false_alarms_on_open_rest_recordings_stay_low(open_data):
    # Zyma et al. 2019, Data 4:14: rest, eyes closed, cleaned by its authors. Random
    # combinations of electrodes stand for regions; each cut half a side from the next.
    p = np.concatenate([of_person(open_data / "mental-arithmetic" / f"{n}.edf") for n in PEOPLE])
    assert len(p) == 4 * (5 + 3 + 1)
    assert (p < 0.05).mean() <= 0.07


def of_person(path) -> np.ndarray:
    raw, _ = read_edf(path)
    rate_hz = raw.info["sfreq"]
    sos = signal.butter(4, 0.5, "highpass", fs=rate_hz, output="sos")
    samples = signal.sosfiltfilt(sos, raw.get_data(picks=list(STANDARD_19)), axis=1)
    found = quality(STANDARD_19, high_hz=45.0, duration_s=samples.shape[1] / rate_hz)
    scan = RegionScan(
        Signal(samples, STANDARD_19, rate_hz),
        regions(STANDARD_19),
        found.model_copy(update={"rate_hz": rate_hz}),
        load_settings("s1").replay.insight,
    )
    return np.stack([cut(scan, at, side) for side in (45, 60, 90) for at in places(side)])


def places(side_s) -> np.ndarray:
    return np.arange(side_s, 181 - side_s, side_s / 2)


def cut(scan, at_s, side_s) -> np.ndarray:
    number = 2 * round(10 * at_s + 1e5 * side_s)
    before = Block(number, Kind.PRACTICE, at_s - side_s, at_s, "closed", "none")
    after = Block(number + 1, Kind.PRACTICE, at_s, at_s + side_s, "closed", "none")
    return scan.compared(Break(before, before, after)).p
