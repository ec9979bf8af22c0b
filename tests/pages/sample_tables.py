"""Tables of invented sittings: timeline, spectra and band power, simulated."""

import numpy as np
import pandas as pd
from sample_given import BAD, ELECTRODES
from scipy.stats import chi2

STEP_S = 0.125


def timeline(blocks, conditions: dict[str, tuple[float, float, str]], seed: int) -> pd.DataFrame:
    """Noise about (dB before the break, dB after it) of each condition's threshold."""
    rng = np.random.default_rng(seed)
    time = np.arange(0, blocks[-1].stop_s, STEP_S)
    block = np.zeros(len(time), int)
    for b in blocks:
        block[(time >= b.start_s) & (time < b.stop_s)] = b.index
    table = {"time_s": time, "block": block}
    met_all = np.ones(len(time), bool)
    for name, (before, after, direction) in conditions.items():
        db = _smooth_noise(rng, len(time)) + np.where(time < 400, before, after)
        sign = 1 if direction == "above" else -1
        table[f"{name}_value"] = 6.0 * 10 ** (sign * db / 10)
        table[f"{name}_threshold"] = 6.0
        table[f"{name}_met"] = db > 0
        met_all &= db > 0
    table["state"] = _states(time, block, blocks, met_all)
    return pd.DataFrame(table)


def _smooth_noise(rng, n: int) -> np.ndarray:
    noise = np.zeros(n)
    steps = rng.normal(scale=0.75, size=n)
    for i in range(1, n):
        noise[i] = 0.96 * noise[i - 1] + steps[i]
    return noise


def _states(time, block, blocks, met) -> np.ndarray:
    kinds = {b.index: b.kind for b in blocks}
    state = np.array(["outside"] * len(time), dtype=object)
    held = failed = 0
    on = False
    for i in range(len(time)):
        held, failed = (held + 1, 0) if met[i] else (0, failed + 1)
        on = held >= 4 or (on and failed < 2)
        if kinds.get(block[i]) == "practice":
            state[i] = "reward" if on else "no-reward"
    for start, stop in ((40.0, 43.5), (301.0, 309.25), (620.5, 622.0)):
        inside = (time >= start) & (time < stop) & (state != "outside")
        state[inside] = "bad"
    return state


def spectra(blocks) -> pd.DataFrame:
    frequency = np.arange(1.0, 80.25, 0.5)
    rows = []
    for block in blocks:
        if block.kind == "break":
            continue
        for i, name in enumerate(n for n in ELECTRODES if n not in BAD):
            alpha = (6 + i) * np.exp(-0.5 * ((frequency - 10.2) / 1.1) ** 2)
            muscle = 0.35 * np.exp(-0.5 * ((frequency - 55) / 25) ** 2) * (name in ("T7", "T8"))
            gain = 1.0 if block.kind == "baseline" else 1.25
            psd = gain * (30 / frequency**1.6 + alpha) + muscle
            psd = np.where((frequency > 49) & (frequency < 51), psd * 1e-3, psd)
            rows.append(
                pd.DataFrame(
                    {
                        "block": block.index,
                        "electrode": name,
                        "frequency_hz": frequency,
                        "psd_uv2_per_hz": psd.round(6),
                    }
                )
            )
    return pd.concat(rows, ignore_index=True)


def known_power(power: float, dof: float) -> dict[str, float]:
    """A power with its chi-squared interval, as the region stage writes it."""
    low, high = (power * dof / chi2.ppf(p, dof) for p in (0.975, 0.025))
    named = {"power": power, "power_low": low, "power_high": high, "dof": dof}
    return {name: round(value, 4) for name, value in named.items()}


def bandpower(blocks) -> pd.DataFrame:
    places = [("region", "insula-right", "sLORETA^2", 4.7)]
    places += [("electrode", name, "uV^2", 3.1) for name in ("T7", "T8", "Cz")]
    rows = [
        {
            "block": block.index,
            "place_kind": kind,
            "place": place,
            "measure": "sloreta" if kind == "region" else "sensor",
            "band": band,
            "low_hz": low,
            "high_hz": high,
            **known_power(level * (1 + 0.1 * block.index), 93.5 if band == "alpha" else 270.25),
            "relative_power": 0.31 if band == "alpha" else 0.021,
            "unit": unit,
            "seconds": block.stop_s - block.start_s,
            "n_segments": int(block.stop_s - block.start_s),
        }
        for block in blocks
        if block.kind != "break"
        for kind, place, unit, level in places
        for band, low, high in (("alpha", 8.0, 13.0), ("gamma", 30.0, 45.0))
    ]
    return pd.DataFrame(rows)
