"""Bad electrodes: each fault planted in one of 19 is found there, with its reason."""

import numpy as np
import pytest
from simulated import NAMES, SETTINGS, Recording, blinks, pink, quiet

from aftersit.clean import filters, wiring
from aftersit.clean.measure import find_bad_electrodes
from aftersit.clean.sitting import Sitting
from aftersit.clean.windows import against_others, quadratic, unexplained, window_covariances
from aftersit.quality import Carried

RATE_HZ = 256.0
RNG = np.random.default_rng(21)
BASE = quiet(90)
N = BASE.x.shape[1]


def judged(recording: Recording, high_hz: float = 115):
    """Findings on a recording, high-passed as in the stage."""
    sitting = Sitting.read(recording.raw(), SETTINGS)
    sitting.x, drift = filters.without_drift(sitting.x, RATE_HZ, SETTINGS.high_pass_hz)
    return find_bad_electrodes(sitting, drift, Carried(low_hz=0.5, high_hz=high_hz))[0]


def steps(size_uv: float, every_s: float) -> np.ndarray:
    out = np.zeros(N)
    for at in np.arange(3, 88, every_s):
        out[round(at * RATE_HZ) :] += size_uv * RNG.choice([-1, 1])
    return out


def plus(name: str, row: np.ndarray) -> Recording:
    return BASE.changed(name, BASE.row(name) + row)


def contact(times: float) -> np.ndarray:
    """Noise as bad contacts make, over the usual 8 uV of an electrode in 1-20 Hz."""
    rough = pink(RNG, N, RATE_HZ, 1.0) + 0.5 * RNG.standard_normal(N)
    slow = filters.band_pass(rough[None], RATE_HZ, 1.0, 20.0)[0]
    return times * 8 * rough / slow.std()


def late(row: np.ndarray) -> np.ndarray:
    """The last 40 % of a row."""
    return np.where(np.arange(N) < 0.6 * N, 0, row)


def died(row: np.ndarray) -> np.ndarray:
    return row - late(row) + late(0.1 * RNG.standard_normal(N))


FAULTS = {
    "open input": (BASE.changed("C3", 0.1 * RNG.standard_normal(N)), "C3", "flat"),
    "constant": (BASE.changed("O2", np.full(N, -3.0)), "O2", "flat"),
    "white noise": (plus("P4", 25 * RNG.standard_normal(N)), "P4", "noisy"),
    "contact noise": (plus("T7", 25 * pink(RNG, N, RATE_HZ, 1.0)), "T7", "noisy"),
    "noise of its own size": (plus("Cz", contact(1.4)), "Cz", "noisy"),
    "noise at the end": (plus("C4", late(contact(4.0))), "C4", "noisy"),
    "dead at the end": (BASE.changed("F3", died(BASE.row("F3"))), "F3", "flat"),
    "strong noise": (plus("Fp2", 1000 * RNG.standard_normal(N)), "Fp2", "noisy"),
    "another signal": (BASE.changed("F4", 8 * pink(RNG, N, RATE_HZ)), "F4", "unrelated"),
    "drift": (plus("T8", 300 * np.cumsum(RNG.standard_normal(N)) / 16), "T8", "drifting"),
    "pops": (plus("O1", steps(180, 6.0)), "O1", "popping"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_planted_fault_is_found_there_and_nowhere_else(fault):
    recording, name, reason = FAULTS[fault]
    found = judged(recording)
    assert found.reasons == {name: [reason]}
    assert found.evidence[name]


@pytest.mark.parametrize("number", [5, 6, 7])
def test_good_electrodes_stay_blinks_or_not(number):
    recording = quiet(60, number=number)
    recording.x += blinks(recording, 150, 4)
    assert judged(recording).good == NAMES


def test_a_tense_jaw_is_no_bad_electrode():
    """Muscle under F7 and T7, 12 uV above 30 Hz, heard by its neighbours."""
    muscle = np.zeros_like(BASE.x)
    for at, place in enumerate(([-0.95, 0.3, 0.0], [-1.0, 0.0, -0.1], [-0.9, 0.5, -0.1])):
        wave = filters.high_pass(np.random.default_rng(at).standard_normal((1, N)), RATE_HZ, 25)[0]
        muscle += np.outer(np.exp(-((_positions() - place) ** 2).sum(axis=1) / 0.12), 12 * wave)
    assert judged(Recording(BASE.x + muscle, RATE_HZ)).good == NAMES


def _positions() -> np.ndarray:
    from simulated import positions

    return positions()


def test_a_bridge_costs_the_later_electrode():
    both = (BASE.row("Fp1") + BASE.row("Fp2")) / 2
    recording = BASE.changed("Fp1", both + 0.1 * RNG.standard_normal(N))
    recording = recording.changed("Fp2", both + 0.1 * RNG.standard_normal(N))
    found = judged(recording)
    assert found.reasons == {"Fp2": ["bridged"]}
    assert found.evidence["Fp1"]["bridge_difference_uv"] < 0.6


@pytest.mark.parametrize("pair", wiring.PAIRS, ids="-".join)
def test_left_and_right_exchanged_are_suspected(pair):
    left, right = pair
    swapped = BASE.changed(left, BASE.row(right)).changed(right, BASE.row(left))
    assert judged(swapped).reasons == {left: ["swapped"], right: ["swapped"]}


def test_two_exchanged_pairs_side_by_side_are_both_suspected():
    swapped = BASE
    for left, right in (("P7", "P8"), ("O1", "O2")):
        rows = BASE.row(left), BASE.row(right)
        swapped = swapped.changed(left, rows[1]).changed(right, rows[0])
    assert set(judged(swapped).reasons) == {"P7", "P8", "O1", "O2"}


def test_an_electrode_that_hears_only_the_reference_fits_no_place():
    """At average reference a dead electrode is no flat line but the others' mean."""
    dead = BASE.changed("Pz", 0.1 * RNG.standard_normal(N))
    found = judged(Recording(dead.x - dead.x.mean(axis=0), RATE_HZ))
    assert found.reasons == {"Pz": ["unrelated"]}


def test_an_absent_electrode_is_missing():
    recording = quiet(30)
    raw = recording.raw().drop_channels(["Pz"])
    sitting = Sitting.read(raw, SETTINGS)
    sitting.x, drift = filters.without_drift(sitting.x, RATE_HZ, 0.5)
    found = find_bad_electrodes(sitting, drift, Carried(low_hz=0.5, high_hz=115))[0]
    assert found.reasons == {"Pz": ["missing"]}
    entry = found.electrodes()[NAMES.index("Pz")]
    assert (entry.name, entry.good, entry.reasons) == ("Pz", False, ("missing",))


def test_bad_for_a_while_is_no_reason_to_leave_out():
    noise = np.zeros(N)
    noise[30 * 256 : 36 * 256] = 150 * RNG.standard_normal(6 * 256)
    found = judged(plus("P3", noise))
    assert found.good == NAMES
    half_seconds = np.flatnonzero(found.bad_blocks[NAMES.index("P3")])
    assert half_seconds.tolist() == list(range(60, 72))


def test_window_variances_equal_those_of_the_samples():
    combination = unexplained(np.cov(BASE.x))
    covariances = window_covariances(BASE.x, 256)
    rows = combination @ BASE.x[:, : 90 * 256]
    expected = (rows.reshape(19, 90, 256) ** 2).mean(axis=2).T
    np.testing.assert_allclose(quadratic(combination, covariances), expected, rtol=1e-8)


def test_the_recordings_reference_has_no_part():
    """A common signal on all electrodes changes neither variances nor predictions."""
    common = np.outer(np.ones(19), 40 * pink(RNG, N, RATE_HZ))
    typical = np.cov(BASE.x)
    for make in (lambda c: against_others(19), unexplained):
        rows = make(typical)
        np.testing.assert_allclose(rows @ common, 0, atol=1e-9)
    np.testing.assert_allclose(
        unexplained(np.cov(BASE.x + common)), unexplained(typical), atol=1e-8
    )
