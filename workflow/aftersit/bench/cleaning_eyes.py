"""Eyes and heart: what cleaning leaves of them, with and without their own channels."""

from collections.abc import Iterator

import numpy as np
from scipy import signal

from aftersit.bench.case import Case
from aftersit.bench.heads import LABEL
from aftersit.bench.measured import region_power
from aftersit.bench.open_recordings import OpenRecording, open_recordings
from aftersit.bench.sittings import Simulated, as_raw, simulate
from aftersit.bench.table import Table
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.run import Cleaned, clean_recording
from aftersit.electrodes import STANDARD_19
from aftersit.settings import load_settings

SEED = 64000
MINUTES = 4.0
BROW = ("Fp1", "Fp2")
CHANNELS = ((), ("eog", "ecg"))
HEARTS_UV = (5.0, 10.0, 20.0)
EYES_AT = ("superiorfrontal-both", (1.0, 8.0))
HEART_AT = ("insula-left", (4.0, 30.0))
BEAT_S = (-0.1, 0.4)


def eye_tables(quick: bool) -> Iterator[Table]:
    """Simulation with a known truth, then the open recordings by averaging over events."""
    cases = [_case(k, quick) for k in range(1 if quick else 6)]
    yield Table(
        "eyes-heart",
        "what is left of eyes and heart after cleaning, dB of their power before",
        [row for case in cases for row in _simulated_rows(case)],
        notes=(
            "simulated sittings with open eyes; left at Fp1, Fp2 (eyes, 1-8 Hz) and at the "
            "electrode that heard most (heart, 4-30 Hz); region: eyes or heart that are left, "
            f"dB over the brain at {EYES_AT[0]} (1-8 Hz) and {HEART_AT[0]} (4-30 Hz)",
        ),
    )
    rows = [row for one in open_recordings() for row in _open_rows(one)]
    if rows:
        yield Table(
            "eyes-heart-open", "open recordings: mean over events, uV", rows[: 2 if quick else None]
        )


def _case(k: int, quick: bool) -> Case:
    return Case.drawn(
        SEED + k,
        minutes=1.5 if quick else MINUTES,
        eyes="open",
        blinks_per_minute=8.0 + 4 * (k % 3),
        blink_uv=60.0 + 60 * (k % 3),
        heart_uv=HEARTS_UV[k % 3],
    )


def _simulated_rows(case: Case) -> Iterator[dict]:
    made = simulate(case)
    settings = load_settings(LABEL)
    for channels in CHANNELS:
        raw = made.raw(*channels)
        cleaned = clean_recording(raw, ChannelLimits(), 50.0, settings.clean, settings.seed)
        removed = [c.label for c in cleaned.quality.components if c.removed]
        yield {
            "blink_uv": case.blink_uv,
            "heart_uv": case.heart_uv,
            "channels": ", ".join(channels) or "none",
            "eye_components": removed.count("eye"),
            "heart_found": cleaned.quality.heart.source if cleaned.quality.heart else "no",
            **_left(made, cleaned),
        }


def _left(made: Simulated, cleaned: Cleaned) -> dict:
    rows = [STANDARD_19.index(name) for name in cleaned.names]
    keep, rate = np.array(cleaned.quality.keep), made.rate_hz
    good = tuple(cleaned.names)
    out = {}
    for name, (region, band) in (("eyes", EYES_AT), ("heart", HEART_AT)):
        before = made.parts[name][rows] - made.parts[name][rows].mean(axis=0)
        after = keep @ made.parts[name][rows] if name == "eyes" else _heart_left(before, cleaned)
        at = _at(name, before, cleaned.names)
        out[f"{name}_left"] = _db(_power(after[at], rate, band), _power(before[at], rate, band))
        brain = region_power(made.brain[rows], rate, region, band, good)
        out[f"{name}_before_at_region"] = _db(region_power(before, rate, region, band, good), brain)
        out[f"{name}_left_at_region"] = _db(region_power(after, rate, region, band, good), brain)
    return out


def _heart_left(heart: np.ndarray, cleaned: Cleaned) -> np.ndarray:
    """What of the heart the cleaned signal holds, by regression on the heart's own course.

    Beats are subtracted one by one, so no matrix tells what is left of them.
    """
    course = heart[np.argmax(heart.var(axis=1))]
    return np.outer(cleaned.data_uv @ course / (course @ course), course)


def _at(name: str, x: np.ndarray, names: list[str]) -> list[int]:
    if name == "eyes":
        return [names.index(e) for e in BROW if e in names]
    return [int(np.argmax(x.var(axis=1)))]


def _power(x: np.ndarray, rate_hz: float, band_hz: tuple[float, float]) -> float:
    f, density = signal.welch(x, rate_hz, nperseg=round(2 * rate_hz))
    inside = (f >= band_hz[0]) & (f < band_hz[1])
    return float(density[:, inside].sum() * (f[1] - f[0]))


def _db(after: float, before: float) -> float | None:
    return round(10 * np.log10(max(after, 1e-9) / before), 1) if before > 0 else None


def _open_rows(one: OpenRecording) -> Iterator[dict]:
    """Blinks of what nobody cleaned; heartbeats where there is an ECG channel."""
    settings = load_settings(LABEL)
    extra = {} if one.ecg is None else {"ECG": one.ecg}
    for channels in ({}, extra) if extra else ({},):
        raw = as_raw(one.x, STANDARD_19, one.rate_hz, **channels)
        cleaned = clean_recording(raw, one.limits, one.mains_hz, settings.clean, settings.seed)
        if not one.cleaned:
            yield _event_row(one, cleaned, "blink", _blinks(one), channels)
        if one.ecg is not None:
            yield _event_row(one, cleaned, "heartbeat", _beats(one), channels)


def _event_row(
    one: OpenRecording, cleaned: Cleaned, what: str, at: np.ndarray, channels: dict
) -> dict:
    before = one.x - one.x.mean(axis=0)
    was = _mean_event(before, at, one.rate_hz)
    worst = int(np.argmax(np.ptp(was, axis=1)))
    name = STANDARD_19[worst]
    now = _mean_event(cleaned.data_uv, at, one.rate_hz)[cleaned.names.index(name)]
    return {
        "file": one.name,
        "event": what,
        "events": at.size,
        "channels": ", ".join(channels).lower() or "none",
        "electrode": name,
        "before_uv": round(float(np.ptp(was[worst])), 1),
        "after_uv": round(float(np.ptp(now)), 1),
        "chance_uv": round(_chance(cleaned, name, at, one.rate_hz), 1),
    }


def _mean_event(x: np.ndarray, at: np.ndarray, rate_hz: float) -> np.ndarray:
    start, stop = (round(s * rate_hz) for s in BEAT_S)
    inside = at[(at + start >= 0) & (at + stop <= x.shape[1])]
    return np.mean([x[:, a + start : a + stop] for a in inside], axis=0)


def _chance(cleaned: Cleaned, name: str, at: np.ndarray, rate_hz: float) -> float:
    """What as many moments elsewhere give: the same times, shifted round the recording."""
    x = cleaned.data_uv[[cleaned.names.index(name)]]
    shifted = [(at + shift) % x.shape[1] for shift in np.linspace(0.2, 0.8, 7) * x.shape[1]]
    sizes = [np.ptp(_mean_event(x, np.sort(s.astype(int)), rate_hz)) for s in shifted]
    return float(np.median(sizes))


def _blinks(one: OpenRecording) -> np.ndarray:
    rows = [STANDARD_19.index(name) for name in BROW]
    sos = signal.butter(3, (1.0, 8.0), "bandpass", fs=one.rate_hz, output="sos")
    lids = signal.sosfiltfilt(sos, (one.x[rows] - one.x.mean(axis=0)).mean(axis=0))
    return signal.find_peaks(lids, height=50.0, distance=round(0.4 * one.rate_hz))[0]


def _beats(one: OpenRecording) -> np.ndarray:
    sos = signal.butter(3, (5.0, 30.0), "bandpass", fs=one.rate_hz, output="sos")
    size = np.abs(signal.sosfiltfilt(sos, one.ecg))
    return signal.find_peaks(
        size, height=0.5 * np.quantile(size, 0.995), distance=round(0.5 * one.rate_hz)
    )[0]
