"""Spectra of a few electrodes, practice beside baseline, with the muscle-free yardstick."""

import numpy as np
import pandas as pd

from aftersit.muscle import yardstick
from aftersit.pages.answers_source import gamma_powers, practice_blocks
from aftersit.pages.figures import Picture, colour, drawing
from aftersit.pages.format import band, join, number
from aftersit.pages.inputs import SittingInputs
from aftersit.sheet import Kind

SHOWN = ("Fp1", "Fz", "Cz", "T7", "Pz", "O1")
"""Brow, midline, jaw and back; where one did not serve, its other side stands in."""
OTHER_SIDE = {"Fp1": "Fp2", "T7": "T8", "O1": "O2", "Fz": "F3", "Cz": "C3", "Pz": "P3"}
LOWEST_HZ = 1.0


def shown_electrodes(inputs: SittingInputs) -> list[str]:
    """The electrodes that are drawn, of those that served."""
    there = set(inputs.spectra["electrode"])
    chosen = [n if n in there else OTHER_SIDE[n] for n in SHOWN]
    return [n for n in dict.fromkeys(chosen) if n in there]


def spectrum(inputs: SittingInputs, electrode: str, blocks: list[int]) -> pd.Series | None:
    """Mean density over blocks, index Hz, values uV^2/Hz; None without any."""
    table = inputs.spectra
    rows = table[(table["electrode"] == electrode) & table["block"].isin(blocks)]
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

    def draw(figure):
        rows = -(-len(electrodes) // 3)
        axes = figure.subplots(rows, 3, sharex=True, sharey=True, squeeze=False)
        for axis in axes.flat[len(electrodes) :]:
            axis.set_visible(False)
        for axis, electrode in zip(axes.flat, electrodes, strict=False):
            _panel(axis, inputs, electrode, baseline)
        for axis in axes[:, 0]:
            axis.set_ylabel("µV²/Hz")
        for axis in axes[-1]:
            axis.set_xlabel("frequency (Hz)")
        figure.legend(
            *axes[0, 0].get_legend_handles_labels(),
            loc="outside upper left",
            ncols=3,
            handlelength=2.6,
        )

    title = "Spectra after cleaning, practice and baseline"
    height = 0.6 + 1.9 * -(-len(electrodes) // 3)
    return drawing(name, title, describe(inputs), height, draw)


def _panel(axis, inputs: SittingInputs, electrode: str, baseline: list[int]) -> None:
    practice = spectrum(inputs, electrode, practice_blocks(inputs))
    before = spectrum(inputs, electrode, baseline)
    if before is not None:
        axis.plot(before.index, before, ls="--", lw=1.0, color=colour("middle"), label="baseline")
    if practice is not None:
        axis.plot(practice.index, practice, lw=1.2, color=colour("deep"), label="practice")
    frequency = np.linspace(*yardstick.LINE_HZ, 25)
    label = "without muscle, as published (an order of magnitude)"
    density = yardstick.density_uv2_per_hz(frequency)
    axis.plot(frequency, density, ls=":", lw=1.8, color=colour("ochre"), label=label)
    _log_axis(axis)
    axis.set_title(electrode, pad=2)


def _log_axis(axis) -> None:
    """Decades written out: quicker to draw than powers of ten, and quicker to read."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

    axis.set_yscale("log")
    axis.yaxis.set_major_locator(LogLocator(10))
    axis.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.yaxis.set_minor_locator(NullLocator())


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
