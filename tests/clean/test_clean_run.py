"""The whole stage on invented recordings."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter1d
from simulated import NAMES, SETTINGS, Recording, band_power, blinks, change_db, quiet

from aftersit.clean.carried import ChannelLimits
from aftersit.clean.run import clean_recording
from aftersit.muscle.remove import remove_fast_muscle


def clean(recording: Recording, prior_hz: float | None = 50, **aux: np.ndarray):
    return clean_recording(recording.raw(**aux), ChannelLimits(), prior_hz, SETTINGS, 1)


def centred(recording: Recording) -> np.ndarray:
    return recording.x - recording.x.mean(axis=0)


def test_a_faultless_recording_comes_out_as_it_was():
    recording = quiet(60)
    cleaned = clean(recording)
    quality = cleaned.quality
    assert quality.good == cleaned.names == NAMES
    assert quality.bad_spans == ()
    assert quality.usable_s == quality.duration_s == 60
    assert quality.scorable
    assert quality.mains_hz is None
    for band in ((4, 8), (8, 13), (13, 30), (30, 45), (60, 100)):
        before = band_power(centred(recording), 256, *band)
        assert np.abs(change_db(band_power(cleaned.data_uv, 256, *band), before)).max() < 0.1


def test_one_loud_electrode_does_not_leak_into_the_others():
    """1 mV of noise at one electrode changes the others by less than 1 % (CLN-3)."""
    recording = quiet(60)
    noise = 1000 * np.random.default_rng(2).standard_normal(recording.x.shape[1])
    cleaned = clean(recording.changed("C4", noise))
    assert "C4" not in cleaned.names
    kept = [NAMES.index(name) for name in cleaned.names]
    expected = recording.x[kept] - recording.x[kept].mean(axis=0)
    before, after = band_power(expected, 256, 2, 45), band_power(cleaned.data_uv, 256, 2, 45)
    np.testing.assert_allclose(after, before, rtol=0.01)


def test_blinks_leave_the_front_and_alpha_stays():
    recording = quiet(90)
    blinked = Recording(recording.x + blinks(recording, 150, 3), 256)
    cleaned = clean(blinked)
    assert cleaned.quality.bad_spans == ()
    assert [c.label for c in cleaned.quality.components if c.removed] == ["eye"]
    front, back = NAMES.index("Fp1"), [NAMES.index("O1"), NAMES.index("O2")]
    slow = band_power(cleaned.data_uv, 256, 1, 4)[front]
    assert slow < 0.1 * band_power(centred(blinked), 256, 1, 4)[front]
    alpha = band_power(cleaned.data_uv, 256, 8, 13)[back]
    truth = band_power(centred(recording), 256, 8, 13)[back]
    assert np.abs(change_db(alpha, truth)).max() < 0.2


def test_a_fit_that_was_cut_short_stands_in_the_account():
    recording = quiet(40)
    limits = SETTINGS.components.model_copy(update={"max_iterations": 3})
    settings = SETTINGS.model_copy(update={"components": limits})
    cut_short = clean_recording(recording.raw(), ChannelLimits(), 50, settings, 1).quality
    assert not cut_short.components_converged
    assert clean(recording).quality.components_converged


def test_matrices_and_muscle_pattern_explain_the_result():
    """All of it where eyes are quiet; the rest is what eye components carry, and slow."""
    recording = quiet(60)
    blinked = Recording(recording.x + blinks(recording, 150, 6), 256)
    cleaned = clean(blinked)
    keep, eyes = np.array(cleaned.quality.keep), np.array(cleaned.quality.eyes)
    from aftersit.clean.filters import high_pass

    x = centred(Recording(high_pass(blinked.x, 256, SETTINGS.high_pass_hz), 256))
    with_eyes, without = (keep + eyes) @ x, keep @ x
    for signal in (with_eyes, without):
        remove_fast_muscle(signal, 256, cleaned.quality.muscle_pattern)
    trace = np.abs(blinks(recording, 150, 6)[0])
    far = uniform_filter1d((trace > 1).astype(float), 512) == 0
    same = np.abs(cleaned.data_uv - with_eyes).max(axis=0) < 1e-3
    assert same[far].mean() > 0.97
    at_peaks = trace > 120
    left = cleaned.data_uv[0, at_peaks] - without[0, at_peaks]
    assert np.abs(left).mean() < 0.15 * np.abs(with_eyes[0, at_peaks]).mean()
    taken = with_eyes - cleaned.data_uv
    assert band_power(taken, 256, 30, 45).max() < 1e-3 * band_power(taken, 256, 1, 8).max()


def test_a_dropout_is_lost_with_its_guard_and_nothing_else():
    recording = quiet(60)
    recording.x[:, 7680:8192] = recording.x[:, 7680:7681]
    (span,) = clean(recording).quality.bad_spans
    assert (span.reason, span.start_s, span.stop_s) == ("dropout", 29.5, 32.5)


def test_mains_beside_a_dropout_is_removed_as_well_as_elsewhere():
    """The still seconds say nothing of the mains: learned from, they left half of it beside."""
    recording = quiet(60)
    part = slice(7680, 8192)
    hum = 40 * np.sin(2 * np.pi * 50.05 * recording.t + 0.4)
    truth, with_mains = (Recording(recording.x + added, 256) for added in (np.zeros_like(hum), hum))
    for one in (truth, with_mains):
        one.x[:, part] = one.x[:, part.start : part.start + 1]
    cleaned = clean(with_mains)
    (span,) = cleaned.quality.bad_spans
    assert (span.reason, span.start_s, span.stop_s) == ("dropout", 29.5, 32.5)
    left = cleaned.data_uv - clean(truth).data_uv
    beside = np.r_[27 * 256 : 29 * 256 + 128, 32 * 256 + 128 : 35 * 256]
    assert np.sqrt((left[:, beside] ** 2).mean()) < 0.4


def test_mains_beside_the_still_seconds_of_one_electrode_is_removed_too():
    recording = quiet(60)
    recording.x += 40 * np.sin(2 * np.pi * 50.05 * recording.t + 0.4)
    recording.x[6, 7680:8192] = recording.x[6, 7680]
    found = [(s.reason, s.start_s, s.stop_s) for s in clean(recording).quality.bad_spans]
    assert found == [("constant", 29.5, 32.5)]


def test_movement_is_one_span_for_all():
    recording = quiet(60)
    part = slice(30 * 256, 33 * 256)
    size = np.random.default_rng(3).lognormal(0, 0.4, (19, 1))
    recording.x[:, part] += 180 * size * np.sin(2 * np.pi * 1.3 * recording.t[part])
    quality = clean(recording).quality
    moved = [s for s in quality.bad_spans if s.reason == "movement"]
    assert len(moved) == 1
    assert moved[0].start_s < 30.5
    assert 32.5 < moved[0].stop_s < 36
    assert quality.duration_s - quality.usable_s < 6.5


def test_a_burst_of_mains_is_a_bad_span():
    recording = quiet(60)
    part = slice(20 * 256, 23 * 256)
    recording.x += 5 * np.sin(2 * np.pi * 50 * recording.t)
    recording.x[4, part] += 80 * np.sin(2 * np.pi * 50 * recording.t[part])
    quality = clean(recording).quality
    assert quality.mains_hz == 50
    assert "mains" in {s.reason for s in quality.bad_spans}
    assert {s.electrodes for s in quality.bad_spans if s.reason == "mains"} == {("Fz",)}


def test_a_jolt_in_the_last_fraction_of_a_second_is_not_usable():
    recording = quiet(60)
    recording.x = recording.x[:, : 59 * 256 + 120]
    t = np.arange(100) / 256
    size = np.random.default_rng(3).lognormal(0, 0.4, (19, 1))
    recording.x[:, -100:] += 400 * size * np.sin(2 * np.pi * 3 * t)
    quality = clean(recording).quality
    moved = [s for s in quality.bad_spans if s.reason == "movement"]
    assert [s.stop_s for s in moved] == [quality.duration_s]


def test_too_few_seconds_or_electrodes_are_said():
    quality = clean(quiet(25)).quality
    assert (quality.scorable, quality.unusable) == (False, ("too-few-seconds",))
    raw = quiet(40).raw().drop_channels(NAMES[:8])
    quality = clean_recording(raw, ChannelLimits(), 50, SETTINGS, 1).quality
    assert quality.unusable == ("too-few-electrodes",)
    assert len(quality.electrodes) == 19


def test_the_recording_is_not_changed_and_the_seed_decides():
    recording = quiet(40)
    raw = recording.raw(ECG=100 * np.random.default_rng(1).standard_normal(40 * 256))
    before = raw.get_data()
    one = clean_recording(raw, ChannelLimits(), 50, SETTINGS, 1)
    two = clean_recording(raw, ChannelLimits(), 50, SETTINGS, 1)
    np.testing.assert_array_equal(raw.get_data(), before)
    assert one.data_uv.tobytes() == two.data_uv.tobytes()
    assert one.quality == two.quality


@pytest.mark.parametrize("rate_hz", [125, 160, 500])
def test_other_rates_serve(rate_hz):
    cleaned = clean(quiet(40, rate_hz))
    assert cleaned.quality.good == NAMES
    assert cleaned.quality.carried.high_hz == pytest.approx(0.45 * rate_hz)
