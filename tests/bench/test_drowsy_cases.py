"""The simulated drowsy sittings hold what the bench says of them."""

import numpy as np
import pytest
from scipy.signal import welch

from aftersit.bench import drowsy_cases as cases
from aftersit.electrodes import STANDARD_19
from demo_clinic.sources import Sources


def power(x, rate_hz, spans, low_hz, high_hz) -> np.ndarray:
    """By scipy's Welch within the spans, less their ramps of 3 s; one value an electrode."""
    total, seconds = 0.0, 0.0
    for start, stop in spans:
        part = x[:, round((start + 3) * rate_hz) : round((stop - 3) * rate_hz)]
        f, density = welch(part, rate_hz, nperseg=round(2 * rate_hz))
        inside = (f >= low_hz) & (f < high_hz)
        total = total + density[:, inside].sum(axis=1) * (f[1] - f[0]) * part.shape[1]
        seconds += part.shape[1]
    return total / seconds


def test_spells_fall_and_rise_by_what_was_drawn(head):
    doze = next(d for d in cases.dozes(3, 7100) if d.kind == "drowsy, eyes roll")
    made = cases.simulated(doze, Sources.of_head(head))
    x = made.brain + made.parts["theta"]
    x = x - x.mean(axis=0)
    awake = [(3.0, doze.spells[0][0] - 5)]
    theta, usual = (power(x, 256.0, spans, 4, 7).mean() for spans in (doze.spells, awake))
    assert 10 * np.log10(theta / usual) == pytest.approx(doze.rise_db, abs=1.0)
    back = [STANDARD_19.index(name) for name in ("O1", "O2")]
    peak = (doze.case.alpha_hz - 0.8, doze.case.alpha_hz + 0.8)
    alpha, usual = (power(x[back], 256.0, spans, *peak).mean() for spans in (doze.spells, awake))
    # The background does not fall with it, and alpha waxes and wanes.
    assert -13 < 10 * np.log10(alpha / usual) < -2


def test_each_kind_is_drawn_with_its_blocks_and_spells():
    drawn = cases.dozes(2, 9300)
    assert [d.kind for d in drawn[::2]] == list(cases.KINDS)
    assert len({d.case.seed for d in drawn}) == len(drawn)
    for doze in drawn:
        assert bool(doze.spells) is doze.kind.startswith("drowsy")
        assert [b.start_s for b in doze.blocks] == [0.0, 120.0, 360.0]
        opened = {b.index for b in doze.blocks if b.eyes == "open"}
        told = {"drowsy, eyes open, roll": {2, 3}, "awake, eyes open, looking round": {2, 3}}
        told["awake, eyes open and closed"] = {2}
        assert opened == told.get(doze.kind, set())
        for start, stop in doze.spells:
            assert 120 < start < stop < 600
            assert cases.SPELL_S[0] <= stop - start <= cases.SPELL_S[1] + 1e-9


def test_a_case_is_the_same_each_time():
    assert cases.dozes(1, 4) == cases.dozes(1, 4)
    assert cases.dozes(1, 4) != cases.dozes(1, 5)
