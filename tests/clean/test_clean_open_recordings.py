"""Open recordings: what others have cleaned stays, what nobody cleaned is found."""

import numpy as np
import pytest
from open_edf import read_edf
from simulated import NAMES, SETTINGS, band_power, change_db

from aftersit.bench.open_recordings import LOOKED_AT_BAD
from aftersit.clean.run import clean_recording
from aftersit.clean.spans import bad_samples

pytestmark = pytest.mark.open_data

CLEANED = ("Subject00_1", "Subject00_2", "Subject01_2", "Subject02_1")


@pytest.fixture(scope="module", params=CLEANED)
def cleaned_by_authors(request, open_data):
    raw, limits = read_edf(open_data / "mental-arithmetic" / f"{request.param}.edf")
    return request.param, raw, clean_recording(raw, limits, 50.0, SETTINGS, 20260301)


def test_component_cleaned_files_lose_no_electrode_and_little_time(cleaned_by_authors):
    name, _, cleaned = cleaned_by_authors
    quality = cleaned.quality
    assert quality.good == NAMES
    assert quality.scorable
    assert quality.carried.high_hz == 45.0
    (still,) = [s for s in quality.bad_spans if s.reason == "constant"]
    assert still.stop_s == quality.duration_s
    lost = bad_samples(quality.bad_spans, quality.rate_hz, round(still.start_s * quality.rate_hz))
    at_s = np.arange(lost.size) / quality.rate_hz
    for start, stop in LOOKED_AT_BAD.get(name, ()):
        lost[(start <= at_s) & (at_s < stop)] = False
    assert lost.mean() <= 0.01


def test_posterior_alpha_of_usable_seconds_stays(cleaned_by_authors):
    """Within 0.2 dB, before against after, at O1 and O2, average reference."""
    _, raw, cleaned = cleaned_by_authors
    x = raw.get_data(picks=NAMES) * 1e6
    rows = [NAMES.index("O1"), NAMES.index("O2")]
    rate_hz = cleaned.quality.rate_hz
    usable = ~bad_samples(cleaned.quality.bad_spans, rate_hz, x.shape[1])
    before = band_power((x - x.mean(axis=0))[rows][:, usable], rate_hz, 8, 13)
    after = band_power(cleaned.data_uv[rows][:, usable], rate_hz, 8, 13)
    assert np.abs(change_db(after, before)).max() < 0.2


@pytest.fixture(scope="module")
def uncleaned(open_data):
    raw, limits = read_edf(open_data / "motor-imagery-baseline" / "S001R01.edf")
    return raw, clean_recording(raw, limits, 50.0, SETTINGS, 20260301)


def test_blinks_of_the_uncleaned_file_go(uncleaned):
    """[4, 8) Hz at Fp1 is 2-3 times as large with blinks as with closed eyes (DATA-7)."""
    raw, cleaned = uncleaned
    assert "eye" in {c.label for c in cleaned.quality.components if c.removed}
    x = raw.get_data(picks=NAMES)[:, :9600] * 1e6
    before = band_power(x - x.mean(axis=0), 160, 1, 4)
    after = band_power(cleaned.data_uv[:, :9600], 160, 1, 4)
    brow = [NAMES.index("Fp1"), NAMES.index("Fp2")]
    assert (change_db(after, before)[brow] < -6).all()
    before = band_power(x - x.mean(axis=0), 160, 8, 13)
    after = band_power(cleaned.data_uv[:, :9600], 160, 8, 13)
    assert abs(change_db(after, before)[NAMES.index("Pz")]) < 0.2


def test_its_zero_tail_is_a_bad_span_and_no_flat_electrode(uncleaned):
    """T0 lasts 60.2 s, exact zeros after it (DATA-5)."""
    quality = uncleaned[1].quality
    assert quality.good == NAMES
    (still,) = [s for s in quality.bad_spans if s.reason == "constant"]
    assert still.start_s == pytest.approx(60.2 - SETTINGS.spans.guard_s, abs=0.02)
    assert still.stop_s == 61


def test_its_mains_is_60_hz_whatever_the_clinic_says(uncleaned):
    raw, cleaned = uncleaned
    assert cleaned.quality.mains_hz == 60
    x = raw.get_data(picks=NAMES)[:, :9600] * 1e6
    hums = band_power(x - x.mean(axis=0), 160, 59, 61)
    left = band_power(cleaned.data_uv[:, :9600], 160, 59, 61)
    assert np.median(change_db(left, hums)) < -6


def test_its_muscle_is_no_bad_electrode(uncleaned):
    """[30, 48) Hz at T8 is 142 uV^2, a hundred times the paralysed level (EMG-8)."""
    raw, cleaned = uncleaned
    x = raw.get_data(picks=NAMES)[:, :9600] * 1e6
    fast = band_power(x - x.mean(axis=0), 160, 30, 48)[NAMES.index("T8")]
    assert fast == pytest.approx(142, rel=0.05)
    assert "T8" in cleaned.names
