"""Spectra of a few electrodes, practice beside baseline, with the muscle-free yardstick."""

import numpy as np
import pandas as pd

from aftersit.muscle import yardstick
from aftersit.pages.answers_source import gamma_powers, practice_blocks
from aftersit.pages.canvas import WIDTH
from aftersit.pages.figures import Picture, drawing
from aftersit.pages.format import band, join, number
from aftersit.pages.inputs import SittingInputs
from aftersit.pages.panel import Panel, round_ticks
from aftersit.sheet import Kind

SHOWN = ("Fp1", "Fz", "Cz", "T7", "Pz", "O1")
"""Brow, midline, jaw and back; where one did not serve, its other side stands in."""
OTHER_SIDE = {"Fp1": "Fp2", "T7": "T8", "O1": "O2", "Fz": "F3", "Cz": "C3", "Pz": "P3"}
LOWEST_HZ = 1.0

_COLUMNS, _LEFT, _BETWEEN, _HIGH, _OVER = 3, 42.0, 22.0, 112.0, 22.0
_WIDE = (WIDTH - _LEFT - 8 - (_COLUMNS - 1) * _BETWEEN) / _COLUMNS
"""Panels beside each other, and the room around them, in points."""

Curve = tuple[np.ndarray, np.ndarray, tuple[str, dict]]


def shown_electrodes(inputs: SittingInputs) -> list[str]:
    """The electrodes that are drawn, of those that served."""
    there = inputs.spectra_by_electrode
    chosen = [n if n in there else OTHER_SIDE[n] for n in SHOWN]
    return [n for n in dict.fromkeys(chosen) if n in there]


def spectrum(inputs: SittingInputs, electrode: str, blocks: list[int]) -> pd.Series | None:
    """Mean density over blocks, index Hz, values uV^2/Hz; None without any."""
    table = inputs.spectra_by_electrode[electrode]
    rows = table[table["block"].isin(blocks)]
    carried = inputs.quality.carried
    within = rows["frequency_hz"].between(max(LOWEST_HZ, carried.low_hz), carried.high_hz)
    if not within.any():
        return None
    density = rows[within].groupby("frequency_hz")["psd_uv2_per_hz"].mean()
    for low, high in carried.notches_hz:
        density[(density.index >= low) & (density.index <= high)] = np.nan
    return density


def spectra(inputs: SittingInputs, name: str) -> Picture:
    """Draw practice and baseline of each shown electrode."""
    electrodes = shown_electrodes(inputs)
    baseline = [b.index for b in inputs.blocks if b.kind is Kind.BASELINE]

    curves = {n: _curves(inputs, n, baseline) for n in electrodes}
    densities = np.concatenate([d for found in curves.values() for d, _, _ in found])
    known = densities[np.isfinite(densities) & (densities > 0)]
    limits = (float(known.min()) / 1.3, float(known.max()) * 1.3)
    x = (0.0, max(f[-1] for found in curves.values() for _, f, _ in found))
    rows = -(-len(electrodes) // _COLUMNS)
    height = 38 + rows * (_HIGH + _OVER) + 20

    def draw(canvas):
        marks = {label: look for found in curves.values() for *_, (label, look) in found}
        top = canvas.legend(list(marks.items()), 2)
        for n, electrode in enumerate(electrodes):
            row, column = divmod(n, _COLUMNS)
            left = _LEFT + column * (_WIDE + _BETWEEN)
            above = top + _OVER + row * (_HIGH + _OVER)
            panel = Panel(canvas, (left, above, left + _WIDE, above + _HIGH), x, limits, log=True)
            for density, frequency, (_, look) in curves[electrode]:
                panel.curve(frequency, density, **look)
            panel.title(electrode)
            _axes(panel, first=column == 0, last=n + _COLUMNS >= len(electrodes))

    title = "Spectra after cleaning, practice and baseline"
    return drawing(name, title, describe(inputs), height, draw)


def _curves(inputs: SittingInputs, electrode: str, baseline: list[int]) -> list[Curve]:
    """What is drawn of an electrode: density, frequency, words and look."""
    found = []
    for label, blocks, look in (
        ("baseline", baseline, {"stroke": "deep", "width": 1.0, "dash": "4 2"}),
        ("practice", practice_blocks(inputs), {"stroke": "deep", "width": 1.2, "dash": ""}),
    ):
        density = spectrum(inputs, electrode, blocks)
        if density is not None:
            found.append((density.to_numpy(float), density.index.to_numpy(float), (label, look)))
    frequency = np.linspace(*yardstick.LINE_HZ, 25)
    words = "without muscle, as published (an order of magnitude)"
    look = {"stroke": "ochre", "width": 1.8, "dash": "2 2"}
    return [*found, (yardstick.density_uv2_per_hz(frequency), frequency, (words, look))]


def _axes(panel: Panel, first: bool, last: bool) -> None:
    """Decades written out, beside the first panel of a row; frequencies below the last row."""
    low, high = np.log10((panel.y.low, panel.y.high))
    decades = [10.0**k for k in range(int(np.ceil(low)), int(np.floor(high)) + 1)]
    panel.y_axis({d: f"{d:g}" if first else "" for d in decades})
    if first:
        panel.canvas.words(panel.box[0] - 4, panel.box[1] - 8, "µV²/Hz", "end", "quiet")
    ticks = {t: f"{t:g}" for t in round_ticks(panel.x.low, panel.x.high, 6)}
    panel.x_axis(ticks, "frequency (Hz)" if last else "", words=last)


def describe(inputs: SittingInputs) -> str:
    """The spectra's facts in words: the largest bump and the power beside the yardstick."""
    parts = []
    for electrode in shown_electrodes(inputs):
        practice = spectrum(inputs, electrode, practice_blocks(inputs))
        alpha = (
            None if practice is None else practice[(practice.index >= 7) & (practice.index < 14)]
        )
        if alpha is not None and alpha.notna().any():
            top = f"{number(float(alpha.max()), 1, 'µV²/Hz')} at {alpha.idxmax():g} Hz"
            parts.append(f"{electrode} {top}")
    text = f"Highest density in practice between 7 and 14 Hz: {join(parts)}." if parts else ""
    powers = {p.electrode: p.power_uv2 for p in gamma_powers(inputs)}
    gamma = [f"{n} {number(powers[n], 1, 'µV²')}" for n in shown_electrodes(inputs) if n in powers]
    if gamma:
        text += f" {band(yardstick.BAND_HZ)} in practice: {join(gamma)}; "
        text += f"without muscle about {number(yardstick.POWER_UV2, 1, 'µV²')}."
    return text.strip()
