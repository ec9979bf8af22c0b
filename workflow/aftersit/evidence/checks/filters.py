"""Filters and causality: how late a measure is, and that it never looks ahead."""

import re
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy import signal

from aftersit.clean import filters as cleaning
from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, at_most, near, same
from aftersit.replay import engine, filters
from aftersit.replay.grid import Grid

RATE_HZ = 128.0


def noise(seconds: float, rows: int = 5, seed: int = 3) -> np.ndarray:
    """White noise of 10 uV with an offset, in volts."""
    rng = np.random.default_rng(seed)
    return rng.normal(size=(rows, round(seconds * RATE_HZ))) * 1e-5 + 3e-4


def measures() -> list[engine.Measure]:
    """A region-like measure, and a peak as an artefact gate takes it."""
    rng = np.random.default_rng(8)
    forms = rng.normal(size=(6, 5))
    return [
        engine.Measure(
            filters.band_pass((8, 13), RATE_HZ, 4), engine.quadratic_root(forms.T @ forms)
        ),
        engine.Measure(
            filters.band_pass((20, 40), RATE_HZ, 2), engine.each_electrode(5, 1e6), True
        ),
    ]


def values(samples: np.ndarray, sizes: tuple[int, ...] = (), update_s: float = 0.1) -> np.ndarray:
    """Steps of the replay's engine, the samples coming in pieces."""
    stream = engine.PowerStream(measures(), RATE_HZ, update_s, (3.3, 8.0))
    cuts = np.cumsum([0, *sizes])
    pieces = [samples[:, a:b] for a, b in pairwise(cuts)]
    parts = [stream.push(p) for p in [*pieces, samples[:, cuts[-1] :]]]
    return np.concatenate([*parts, stream.finish()], axis=1)


@check("filters", "delay", "Group delays of the replay's band-passes at their centres")
def delay(given: Given, fact: Fact) -> Result:
    found = []
    for low, high, order in fact["low_high_order"]:
        sos = filters.band_pass((low, high), 256, order)
        found.append(filters.group_delay_s(sos, (low, high), 256) * 1000)
    return near(found, fact["delay_ms"], abs=0.6, unit="ms")


@check("filters", "settling", "Time until 99 % of a filter's impulse has passed", fact="delay")
def settling(given: Given, fact: Fact) -> Result:
    found = []
    for low, high, order in fact["low_high_order"]:
        sos = filters.band_pass((low, high), 256, order)
        found.append(filters.settle_s(sos, 256, 0.99) * 1000)
    return near(found, fact["settle_ms"], abs=0.6, unit="ms")


@check("filters", "burst", "The power of a tone burst comes as late as the printed delay")
def burst(given: Given, fact: Fact) -> Result:
    rate_hz, late, printed = 512, [], []
    t = np.arange(8 * rate_hz) / rate_hz - 4
    for band in ((8, 13), (25, 42)):
        tone = np.exp(-0.5 * (t / 0.6) ** 2) * np.cos(2 * np.pi * np.sqrt(np.prod(band)) * t)
        sos = filters.band_pass(band, rate_hz, 4)
        power = np.abs(signal.hilbert(filters.CausalFilter(sos)(tone[np.newaxis])[0])) ** 2
        late.append(1000 * (t * power).sum() / power.sum())
        printed.append(1000 * filters.group_delay_s(sos, band, rate_hz))
    return near(late, printed, abs=1000 / rate_hz, unit="ms")


@check("filters", "half-power", "Band edges pass half the power")
def half_power(given: Given, fact: Fact) -> Result:
    found = []
    for band in ((8, 13), (30, 45), (4, 8)):
        sos = filters.band_pass(band, 256, 4)
        found += (np.abs(signal.sosfreqz(sos, band, fs=256)[1]) ** 2).tolist()
    return near(found, [fact["at_the_edge"]] * 6, abs=1e-6)


@check("filters", "noise-bandwidth", "A band-pass hears as much white noise as its closed form")
def noise_bandwidth(given: Given, fact: Fact) -> Result:
    samples = noise(600, 1, 21) - 3e-4
    measure = engine.Measure(filters.band_pass((20, 30), RATE_HZ, 4), np.ones((1, 1)))
    power = engine.PowerStream([measure], RATE_HZ, 0.125).push(samples).mean() * 1e12
    width = 10 * (np.pi / 8) / np.sin(np.pi / 8)
    return near(power, 2 * 100 / RATE_HZ * width, rel=0.04, unit="uV^2")


@check(
    "filters",
    "poisoned-future",
    "Later samples never change an earlier value, to the bit",
    fact="causal",
)
def poisoned_future(given: Given, fact: Fact) -> Result:
    samples, differ = noise(14), 0
    before = values(samples)
    for at, poison in ((300, 1e3), (801, np.nan), (1337, -900.0)):
        poisoned = samples.copy()
        poisoned[:, at:] = poison
        with np.errstate(invalid="ignore"):
            after = values(poisoned)
        past = int(at / RATE_HZ / 0.1)  # whole steps that end before it
        differ += int((after[:, :past] != before[:, :past]).sum())
    return near(differ, 0, unit="values that changed")


@check(
    "filters", "cut", "A recording that ends earlier has the same past, to the bit", fact="causal"
)
def cut(given: Given, fact: Fact) -> Result:
    whole, differ = values(noise(14)), 0
    for at in (500, 1111):
        short = values(noise(14)[:, :at])
        differ += int((short != whole[:, : short.shape[1]]).sum())
    return near(differ, 0, unit="values that changed")


@check("filters", "chunks", "Samples in pieces of any size give the same values", fact="causal")
def chunks(given: Given, fact: Fact) -> Result:
    samples = noise(14)
    whole, differ = values(samples), 0
    for size in (7, 256, 1000):
        pieces = (size,) * (samples.shape[1] // size)
        differ += int((values(samples, pieces) != whole).sum())
    return near(differ, 0, unit="values that changed")


@check("filters", "no-zero-phase", "No function that filters both ways stands in the replay's code")
def no_zero_phase(given: Given, fact: Fact) -> Result:
    folder = Path(engine.__file__).parent
    found = [
        p.name for p in sorted(folder.glob("*.py")) if re.search(fact["pattern"], p.read_text())
    ]
    return same(found, [])


@check("filters", "moving-mean", "A moving mean of W s is W/2 late")
def moving_mean(given: Given, fact: Fact) -> Result:
    step = np.r_[np.zeros(40), np.ones(40)]
    smooth = engine.moving_mean(step, 8)
    half = np.flatnonzero(smooth >= 0.5)[0] + 1 - 40
    return near(half / 8, fact["windows_late"], abs=1e-9, unit="windows")


@check(
    "filters",
    "rounding",
    "A decision has seen the samples before it and none at it or later",
    fact="causal",
)
def rounding(given: Given, fact: Fact) -> Result:
    grid = Grid(0.1, 250.0, 2500)
    last_s = (grid.first_sample(np.arange(1, 100)) - 1) / 250.0
    ahead_ms = 1000 * (last_s - np.arange(1, 100) * 0.1)
    return at_most(ahead_ms, -1e-6, "ms before the decision")


@check("filters", "high-pass", "Cleaning's high-pass loses what Butterworth's formula says, twice")
def high_pass(given: Given, fact: Fact) -> Result:
    t, losses = np.arange(200 * 128) / 128, []
    for times in fact["times_the_cutoff"]:
        x = np.sin(2 * np.pi * 0.5 * times * t)[np.newaxis]
        middle = slice(60 * 128, 140 * 128)
        passed = cleaning.high_pass(x, 128.0, 0.5)[0, middle]
        losses.append(-20 * np.log10(passed.std() / x[0, middle].std()))
    return near(losses, fact["loss_db"], abs=0.02, unit="dB")


@check("filters", "zero-phase", "Cleaning's high-pass moves nothing in time")
def zero_phase(given: Given, fact: Fact) -> Result:
    t = np.arange(60 * 128) / 128
    x = np.exp(-0.5 * ((t - 30) / 0.4) ** 2) * np.cos(2 * np.pi * 4 * (t - 30))
    passed = cleaning.high_pass(x[np.newaxis], 128.0, 0.5)[0]
    lag = signal.correlate(passed, x).argmax() - (len(x) - 1)
    return near(lag, fact["lag_samples"], unit="samples")
