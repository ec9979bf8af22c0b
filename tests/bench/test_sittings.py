import numpy as np
import pytest
from scipy.signal import welch

from aftersit.bench.case import Case, Drowsiness, Rhythm, Tension
from aftersit.bench.measured import region_power
from aftersit.bench.sittings import simulate
from aftersit.electrodes import STANDARD_19
from aftersit.head.regions import matrix_for
from aftersit.settings import load_settings
from demo_clinic.sources import Sources

SPANS = ((20.0, 41.5), (60.0, 73.0))


@pytest.fixture(scope="module")
def sources(head):
    return Sources.of_head(head)


def measured(head, x, rate_hz, key, band_hz, spans=None):
    """Band power at a region measure by scipy's welch over the middle of the spans, uV^2."""
    matrix = matrix_for(head, STANDARD_19, key, load_settings("s1").head)
    values, vectors = np.linalg.eigh(matrix)
    rows = (vectors * np.sqrt(np.maximum(values, 0))).T @ x
    spans = spans or ((0.0, x.shape[1] / rate_hz),)
    total = 0.0
    for start, stop in spans:
        part = rows[:, round((start + 0.5) * rate_hz) : round((stop - 0.5) * rate_hz)]
        f, density = welch(part, rate_hz, nperseg=round(2 * rate_hz))
        inside = (f >= band_hz[0]) & (f < band_hz[1])
        total += density[:, inside].sum() * (f[1] - f[0]) * (stop - start)
    return total / sum(stop - start for start, stop in spans)


def test_muscle_stands_at_its_level_over_the_brain_while_it_is_tense(head, sources):
    tension = Tension(6.5, ("jaw-left", "brow"), "superiorfrontal-left", (33.0, 44.0), SPANS, 0.1)
    made = simulate(Case(8, 1.5, 250.0, tensions=(tension,)), sources)
    where = (250.0, tension.at, tension.band_hz)
    muscle = measured(head, made.parts["muscle"], *where, SPANS)
    brain = measured(head, made.parts["background"], *where)
    assert 10 * np.log10(muscle / brain) == pytest.approx(6.5, abs=0.6)
    outside = made.parts["muscle"][:, (45 * 250) : (59 * 250)]
    assert np.abs(outside).max() == 0


def test_bursts_raise_their_region_by_what_was_asked(head, sources):
    rhythm = Rhythm("lateraloccipital-right", (14.0, 19.0), 3.4, SPANS)
    made = simulate(Case(9, 1.5, 250.0, rhythms=(rhythm,)), sources)
    where = (250.0, rhythm.at, rhythm.band_hz)
    with_bursts = measured(head, made.brain, *where, SPANS)
    without = measured(head, made.parts["background"], *where)
    assert 10 * np.log10(with_bursts / without) == pytest.approx(3.4, abs=0.7)


def test_region_power_agrees_with_welch(head, sources):
    made = simulate(Case(10, 1.0, 250.0), sources)
    theirs = measured(head, made.brain, 250.0, "insula-left", (8.0, 13.0))
    ours = region_power(made.brain, 250.0, "insula-left", (8.0, 13.0)) * 1e12
    assert ours == pytest.approx(theirs, rel=0.1)


def test_the_same_case_is_the_same_signal_and_parts_do_not_shift_each_other(sources):
    case = Case.drawn(21, minutes=0.5, eyes="open", heart_uv=12.0)
    one, two = simulate(case, sources), simulate(case, sources)
    np.testing.assert_array_equal(one.signal_uv, two.signal_uv)
    tense = Case.drawn(21, minutes=0.5, eyes="open", heart_uv=12.0, tensions=(Tension(3.0),))
    other = simulate(tense, sources)
    for name in ("background", "eyes", "heart", "noise"):
        np.testing.assert_array_equal(one.parts[name], other.parts[name])
    assert not np.array_equal(one.signal_uv, simulate(Case.drawn(22, minutes=0.5), sources))


def test_sizes_of_heart_and_blinks_are_those_asked_for(sources):
    made = simulate(Case(5, 1.0, 256.0, eyes="open", blink_uv=90.0, heart_uv=14.0), sources)
    from_mean = made.parts["heart"] - made.parts["heart"].mean(axis=0)
    assert 9 < np.abs(from_mean).max() < 20
    lids = made.parts["eyes"][STANDARD_19.index("Fp1")]
    assert 60 < lids.max() < 130


def test_a_drowsy_spell_loses_alpha_and_gains_theta(sources):
    case = Case(6, 1.5, 250.0, alpha_uv2=90.0, drowsiness=Drowsiness(((30.0, 80.0),)))
    x = simulate(case, sources).brain
    x = (x - x.mean(axis=0))[STANDARD_19.index("O1")]
    f, awake = welch(x[: 28 * 250], 250.0, nperseg=500)
    f, dozing = welch(x[35 * 250 : 75 * 250], 250.0, nperseg=500)
    alpha, theta = (f >= 9) & (f < 11), (f >= 4.5) & (f < 6.5)
    assert dozing[alpha].sum() < 0.35 * awake[alpha].sum()
    assert dozing[theta].sum() > 1.5 * awake[theta].sum()


def test_a_recording_is_in_volts_with_typed_channels(sources):
    made = simulate(Case(5, 0.2, 200.0), sources)
    raw = made.raw("ecg", "eog")
    assert raw.get_channel_types()[-2:] == ["ecg", "eog"]
    np.testing.assert_allclose(raw.get_data()[:19] * 1e6, made.signal_uv, rtol=1e-12)
