"""Muscle on real recordings: found where it is known to be, not where it is known not to be.

The uncleaned minute (Schalk et al. 2004) is full of muscle at T7 and T8; of the files that
their authors cleaned by components (Zyma et al. 2019), Subject01 at T7 and Subject02 at Fp1
kept some. Powers: own computation with 2 s Hann windows, average over the 19, first 60 s.
"""

import numpy as np
import pytest
from open_edf import read_edf

from aftersit.clean.run import clean_recording
from aftersit.electrodes import STANDARD_19
from aftersit.muscle.account import Measured, evidence_of
from aftersit.muscle.verdict import block_finding
from aftersit.muscle.windows import Spectra, densities_in
from aftersit.quality import Carried
from aftersit.settings import load_settings

pytestmark = pytest.mark.open_data
SETTINGS = load_settings("s1")


class Recorded:
    carried, mains_hz = Carried(low_hz=0.5, high_hz=79.0), None


@pytest.fixture(scope="module")
def uncleaned(open_data):
    (path,) = sorted((open_data / "motor-imagery-baseline").glob("*.edf"))
    return read_edf(path)


@pytest.fixture(scope="module")
def judged(uncleaned):
    """Quality, and the usable windows' evidence of single electrodes."""
    raw, limits = uncleaned
    cleaned = clean_recording(raw, limits, 60.0, SETTINGS.clean, SETTINGS.seed)
    good = cleaned.quality.good
    places = [Measured(e, np.diag([float(e == g) for g in good]), (30.0, 45.0)) for e in good]
    x = raw.get_data(picks=good) * 1e6
    return evidence_of(x, places, cleaned.quality, SETTINGS.clean.muscle)


def power_uv2(raw, band_hz):
    """Mean power of each electrode in a band, uV^2."""
    x = raw.get_data(picks=list(STANDARD_19)) * 1e6
    windows = densities_in(Spectra(x, raw.info["sfreq"]), {"band": band_hz}, Recorded())
    density = np.diagonal(windows.density["band"].mean(axis=0))
    return dict(zip(STANDARD_19, density * (band_hz[1] - band_hz[0]), strict=True))


def test_the_uncleaned_minute_is_as_loud_as_measured_beforehand(uncleaned):
    found = power_uv2(uncleaned[0], (30.0, 48.0))
    expected = {"T8": 142, "Fp1": 60, "T7": 57, "O2": 34, "F7": 33, "O1": 22, "Cz": 18, "Pz": 13}
    assert {n: found[n] for n in expected} == pytest.approx(expected, rel=0.06)


@pytest.mark.parametrize("place", ["T7", "T8", "Fp1"])
def test_the_uncleaned_minute_is_suspect_at_the_edge(judged, place):
    windows, found = judged
    usable = np.ones(windows.start_s.size, bool)
    told = block_finding(found[place], usable, SETTINGS.clean.muscle.verdict)
    assert told.verdict == "suspect"
    assert {"share-of-measure", "fast-level"} <= set(told.reasons)
