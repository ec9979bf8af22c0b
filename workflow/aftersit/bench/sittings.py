"""Simulated sittings with a known truth, each part apart."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from aftersit.bench import cortex
from aftersit.bench.case import N_HEADS, Case, Rhythm, Tension
from aftersit.bench.heads import other_heads
from aftersit.bench.measured import region_power
from demo_clinic import alpha, background, bursts, eyes, faults, muscle
from demo_clinic.noise import band_rhythm, generator, slow_noise, waxing
from demo_clinic.simulate import REFERENCE_SHARE
from demo_clinic.sources import Sources
from demo_clinic.spans import complement, gate, intersection

if TYPE_CHECKING:
    import mne

MUSCLE_AWAY_M, MUSCLE_PEAK_SPREAD = 0.008, 0.2
SACCADES_PER_MINUTE = 20
WANES_HZ = 0.03


@dataclass(frozen=True)
class Simulated:
    """A recording in its parts.

    Attributes
    ----------
    case : Case
    sources : Sources
        The head that it was made with.
    parts : dict of ndarray, shape (19, n_samples)
        uV, against linked ears: `background` (with alpha, beta and theta),
        `rhythms`, `muscle`, `eyes`, `heart`, `noise`. Further ones, such as
        faults, are added by `with_part`.
    ecg, eog : ndarray, shape (n_samples,)
        uV; the channels that a recorder may have had.
    """

    case: Case
    sources: Sources
    parts: dict[str, np.ndarray]
    ecg: np.ndarray
    eog: np.ndarray
    rate_hz: float = field(default=256.0)

    @property
    def brain(self) -> np.ndarray:
        """What a perfect cleaning would leave, but for the amplifier's noise."""
        return self.parts["background"] + self.parts["rhythms"]

    @property
    def signal_uv(self) -> np.ndarray:
        """All parts, as recorded."""
        return sum(self.parts.values())

    def with_part(self, name: str, part: np.ndarray) -> Simulated:
        """The same with one more part."""
        return replace(self, parts={**self.parts, name: part})

    def raw(self, *extra: str) -> mne.io.RawArray:
        """As mne reads it, in volts; `extra` are `ecg` and `eog`."""
        channels = {name.upper(): getattr(self, name) for name in extra}
        return as_raw(self.signal_uv, self.sources.electrodes, self.rate_hz, **channels)


def as_raw(
    x: np.ndarray, names: tuple[str, ...], rate_hz: float, **extra: np.ndarray
) -> mne.io.RawArray:
    """Signal in uV as mne reads it; further channels are typed by their names."""
    import mne

    types = ["eeg"] * len(names) + [name.lower() for name in extra]
    info = mne.create_info([*names, *extra], rate_hz, types, verbose="ERROR")
    return mne.io.RawArray(np.vstack([x, *extra.values()]) * 1e-6, info, verbose="ERROR")


class _Studio:
    """What the parts of one sitting share."""

    def __init__(self, case: Case, sources: Sources | None):
        self.case, self.rate_hz = case, case.rate_hz
        self.sources = sources or other_heads(N_HEADS)[case.head]
        self.n_samples = round(case.minutes * 60 * case.rate_hz)
        self.dozing = self.gate(case.drowsiness.spans, 3.0)

    def rng(self, *part: str) -> np.random.Generator:
        return generator(self.case.seed, *part)

    def gate(self, spans, ramp_s: float = 0.2) -> np.ndarray:
        return gate(list(spans), self.n_samples, self.rate_hz, ramp_s)

    def zeros(self) -> np.ndarray:
        return np.zeros((len(self.sources.electrodes), self.n_samples))


def simulate(case: Case, sources: Sources | None = None) -> Simulated:
    """Simulate a sitting of one of the other heads, or of a given one; same case, same bytes."""
    studio = _Studio(case, sources)
    parts = {"background": _background(studio)}
    parts["rhythms"] = _rhythms(studio, parts["background"])
    parts["muscle"] = _tensions(studio, parts["background"])
    parts["eyes"], eog = _eyes(studio)
    parts["heart"], ecg = _heart(studio)
    names = studio.sources.electrodes
    ears = [names.index(name) for name in ("T7", "T8")]
    for part in parts.values():
        part -= REFERENCE_SHARE * part[ears].mean(axis=0)
    parts["noise"] = _noise(studio)
    return Simulated(case, studio.sources, parts, ecg, eog, case.rate_hz)


def _background(studio: _Studio) -> np.ndarray:
    case, rate = studio.case, studio.rate_hz
    total = cortex.background(
        studio.rng("background"), studio.sources, studio.n_samples, rate, case.background_uv2
    )
    changes_db = alpha.EYES_OPEN_DB * studio.gate(case.eyes_spans("open"))
    if case.alpha_wanes_db:
        slow = slow_noise(studio.rng("alpha wanes"), 1, studio.n_samples, rate, WANES_HZ)
        changes_db = changes_db + case.alpha_wanes_db * slow[0]
    size = np.sqrt(case.alpha_uv2) * 10 ** (changes_db / 20)
    size = size * (1 - studio.dozing * (1 - 10 ** (case.drowsiness.alpha_db / 20)))
    total += cortex.posterior(studio.rng("alpha"), studio.sources, rate, case.alpha_hz, size)
    beta = np.full(studio.n_samples, np.sqrt(case.beta_uv2))
    total += cortex.central(studio.rng("beta"), studio.sources, rate, case.beta_hz, beta)
    if case.drowsiness.spans:
        level = case.drowsiness.theta_uv2
        total += background.theta(studio.rng("theta"), studio.sources, studio.dozing, rate, level)
    return total


def _rhythms(studio: _Studio, background: np.ndarray) -> np.ndarray:
    total = studio.zeros()
    for number, rhythm in enumerate(studio.case.rhythms):
        total += _rhythm(studio, rhythm, background, number)
    return total


def _rhythm(studio: _Studio, rhythm: Rhythm, background: np.ndarray, number: int) -> np.ndarray:
    mixing = bursts.place(studio.sources, *rhythm.at.rsplit("-", 1)).mixing
    rng = studio.rng("rhythm", str(number))
    rows = band_rhythm(rng, mixing.shape[1], studio.n_samples, studio.rate_hz, rhythm.band_hz)
    on = studio.gate(rhythm.spans)
    raw = mixing @ (rows * on)
    level_db = bursts.level_for_rise(rhythm.rise_db)
    return raw * _scale(studio, raw, on, background, rhythm.at, rhythm.band_hz, level_db)


def _scale(
    studio: _Studio,
    raw: np.ndarray,
    on: np.ndarray,
    background: np.ndarray,
    at: str,
    band_hz: tuple[float, float],
    level_db: float,
) -> float:
    """Factor that brings a part to a level over the background at a region measure."""
    own = region_power(raw, studio.rate_hz, at, band_hz) / np.mean(on**2)
    other = region_power(background, studio.rate_hz, at, band_hz)
    return float(np.sqrt(10 ** (level_db / 10) * other / own))


def _tensions(studio: _Studio, background: np.ndarray) -> np.ndarray:
    total = studio.zeros()
    for number, tension in enumerate(studio.case.tensions):
        on = np.ones(studio.n_samples) if tension.spans is None else studio.gate(tension.spans)
        raw = sum(_muscle(studio, tension, name, on, number) for name in tension.muscles)
        level = (tension.at, tension.band_hz, tension.level_db)
        total += raw * _scale(studio, raw, on, background, *level)
    return total


def _muscle(
    studio: _Studio, tension: Tension, name: str, on: np.ndarray, number: int
) -> np.ndarray:
    """One muscle, of this person's own place, direction and spectrum."""
    rng = studio.rng("muscle", name)
    usual = muscle.MUSCLES[name]
    own = replace(
        usual,
        shift_m=tuple(np.array(usual.shift_m) + MUSCLE_AWAY_M * rng.uniform(-1, 1, 3)),
        fibres=tuple(np.array(usual.fibres) + rng.normal(0, 0.2, 3)),
        peak_hz=usual.peak_hz * rng.lognormal(0, MUSCLE_PEAK_SPREAD),
    )
    mixing = muscle.mixing(studio.sources, own) * rng.lognormal(0, 0.3)
    noise = studio.rng("muscle", name, str(number))
    rows = muscle.units(noise, studio.n_samples, studio.rate_hz, own.peak_hz)
    wax = waxing(noise, studio.n_samples, studio.rate_hz, cutoff_hz=0.2, spread=tension.wax)
    return mixing @ (rows * (wax * on))


def _eyes(studio: _Studio) -> tuple[np.ndarray, np.ndarray]:
    """Eyes at the electrodes, and an upright EOG channel."""
    case, n, rate = studio.case, studio.n_samples, studio.rate_hz
    awake = complement(sorted(case.drowsiness.spans), (0.0, case.minutes * 60))
    often = case.blinks_per_minute
    rates = [
        (span, rate)
        for state, rate in (("open", often), ("closed", often / 10))
        for span in intersection(awake, case.eyes_spans(state))
    ]
    blinks = eyes.blink_times(studio.rng("blink times"), sorted(rates))
    lids = eyes.blink_trace(studio.rng("blinks"), blinks, n, rate, case.blink_uv)
    looking = studio.gate(intersection(awake, case.eyes_spans("open")))
    gaze = eyes.saccade_trace(
        studio.rng("saccades"), looking, rate, case.saccade_uv, SACCADES_PER_MINUTE
    )
    gaze += eyes.rolling_trace(
        studio.rng("rolling"), studio.dozing, rate, case.drowsiness.rolling_uv
    )
    up = eyes.topography(studio.sources, eyes.UP, ("Fp1", "Fp2"))
    right = eyes.topography(studio.sources, eyes.RIGHT, ("F8",))
    noise = faults.drift(studio.rng("eog"), 1, n, rate, 10.0)[0]
    eog = 1.6 * lids + noise + studio.rng("eog fast").standard_normal(n)
    return np.outer(up, lids) + np.outer(right, gaze), eog


def _heart(studio: _Studio) -> tuple[np.ndarray, np.ndarray]:
    """The heart's far field, a gradient mostly from left to right, and an ECG channel."""
    n, rate = studio.n_samples, studio.rate_hz
    clean = faults.heart_waves(studio.rng("heart"), n, rate)
    ecg = clean + 8 * studio.rng("ecg").standard_normal(n)
    direction = np.array([1.0, 0.0, 0.0]) + studio.rng("heart axis").normal(0, 0.35, 3)
    field = (studio.sources.position_m - studio.sources.position_m.mean(axis=0)) @ direction
    size = studio.case.heart_uv / np.abs(field).max() / faults.R_WAVE_UV
    return np.outer(size * field, clean), ecg


def _noise(studio: _Studio) -> np.ndarray:
    """Amplifier, contacts, mains and drift, each electrode by itself."""
    case, n, rate = studio.case, studio.n_samples, studio.rate_hz
    rows = len(studio.sources.electrodes)
    total = faults.amplifier(studio.rng("amplifier"), rows, n)
    total += faults.mains(studio.rng("mains"), rows, n, rate, case.mains_uv)
    total += faults.drift(studio.rng("drift"), rows, n, rate, case.drift_uv)
    total += faults.contact(studio.rng("contact"), rows, n, rate, case.contact_uv)
    return total
