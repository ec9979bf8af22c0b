"""Slow rolling eyes: measured before the high-pass, on a few slow derivations.

Eyes are dipoles with the cornea positive: looking to one side makes F8 rise and
F7 fall, or the other way. As people get drowsy the eyes roll slowly from side to
side: together, fairly regular, like a sine, with a first deflection of more than
0.5 s (rules of the American Academy of Sleep Medicine for slow eye movements, as
quoted by teaching texts). They begin in wakefulness and are most frequent at sleep
onset (Ogilvie et al. 1988, Psychophysiology 25:81; Hiroshige 1987, Jpn J Physiol
Psychol 5:11); by themselves they are no proof of either.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

ROLL_HZ = (0.15, 0.65)
"""0.2-0.6 Hz, as usual for slow eye movements, in bins of 0.1 Hz."""
FASTER_HZ = (0.75, 3.05)
"""Where saccades, which are steps, still have power and rolling has none."""
STEPS = (1 / ROLL_HZ[0] - 1 / ROLL_HZ[1]) / (1 / FASTER_HZ[0] - 1 / FASTER_HZ[1])
"""Power of steps in the first band over that in the second: their density falls with f^2."""
SLOW_RATE_HZ = 16.0
WINDOW_S = 10.0
"""Two cycles of the slowest rolling."""
EYES = ("F7", "F8")
MIDDLE = ("C3", "Cz", "C4")
PAIRS = (("P7", "P8"), ("P3", "P4"), ("O1", "O2"))
"""Left and right where hardly anything of the eyes arrives; the first good pair serves."""
KEPT = (*EYES, *MIDDLE, *(name for pair in PAIRS for name in pair))
SLOWEST_HZ = 0.3
"""A recorder's high-pass above this takes most of the rolling away."""
FLATTENED_DB = 0.0
"""Power density falls from 0.2-0.4 to 0.8-1.6 Hz in every EEG (the open unfiltered recording: by
3 dB, median electrode). Where it rises, a high-pass took the slow part away, named or not."""


@dataclass(frozen=True)
class SlowCopy:
    """The electrodes that are needed, about 16 samples a second, no high-pass.

    Attributes
    ----------
    rows : dict of ndarray, shape (n_slow,)
        uV, by electrode.
    rate_hz : float
    """

    rows: dict[str, np.ndarray]
    rate_hz: float


def slow_copy(x: np.ndarray, names: list[str], rate_hz: float) -> SlowCopy:
    """Means of neighbouring samples.

    Parameters
    ----------
    x : ndarray, shape (n_electrodes, n_samples)
        Before any high-pass, uV.
    names : list of str
        Electrodes of the rows.
    rate_hz : float
        Sampling rate of `x`.
    """
    q = max(int(rate_hz // SLOW_RATE_HZ), 1)
    n_slow = x.shape[1] // q
    rows = {
        name: x[names.index(name), : n_slow * q].reshape(n_slow, q).mean(axis=1)
        for name in KEPT
        if name in names
    }
    return SlowCopy(rows, rate_hz / q)


def sees_eyes(copy: SlowCopy, good: Collection[str]) -> bool:
    """Whether the electrodes beside the eyes, and what they are held against, served."""
    there = [name for name in copy.rows if name in good]
    middle, pair = _middle(there), _pair(there)
    return all(name in there for name in EYES) and bool(middle) and pair is not None


def _middle(there: list[str]) -> list[str]:
    return [name for name in MIDDLE if name in there]


def _pair(there: list[str]) -> tuple[str, str] | None:
    return next((pair for pair in PAIRS if all(name in there for name in pair)), None)


def rolls_db(copy: SlowCopy, good: Collection[str], centres_s: np.ndarray) -> np.ndarray:
    """How far slow rolling stands out, in 10 s round each time.

    Parameters
    ----------
    copy : SlowCopy
        As from `slow_copy`; at least `WINDOW_S` long.
    good : collection of str
        Electrodes that served; `sees_eyes` holds.
    centres_s : ndarray, shape (n,)
        Where to look; near the ends the window stays inside.

    Returns
    -------
    ndarray, shape (n,)
        The least of three ratios of power, in dB: half the difference of F8 and F7 in
        0.2-0.6 Hz over the same band of their mean against the vertex (so the sides
        move against each other); over half the difference of a pair at the back (so
        it comes from the front); and over what steps would have in 0.2-0.6 Hz for the
        same difference in 0.8-3 Hz (so it is smooth). All are free of the recording's
        reference and of its scale.
    """
    rows = copy.rows
    there = [name for name in rows if name in good]
    left, right = _pair(there)
    across = (rows["F8"] - rows["F7"]) / 2
    alike = (rows["F7"] + rows["F8"]) / 2 - np.mean([rows[n] for n in _middle(there)], axis=0)
    behind = (rows[right] - rows[left]) / 2
    rolling, faster = _powers(across, copy.rate_hz, centres_s)
    others = [_powers(row, copy.rate_hz, centres_s)[0] for row in (alike, behind)]
    most = np.max([*others, STEPS * faster], axis=0)
    return 10 * np.log10(rolling + _TINY) - 10 * np.log10(most + _TINY)


_TINY = 1e-12


def _powers(
    row: np.ndarray, rate_hz: float, centres_s: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Power in `ROLL_HZ` and in `FASTER_HZ`, each of shape (n,)."""
    f, power = _spectra(row, rate_hz, centres_s)
    return tuple(power[:, (f > low) & (f < high)].sum(axis=1) for low, high in (ROLL_HZ, FASTER_HZ))


def _spectra(
    row: np.ndarray, rate_hz: float, centres_s: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Periodograms (Hann, straight line taken out) round times; shape (n, n_bins)."""
    size = round(WINDOW_S * rate_hz)
    starts = np.round((centres_s - WINDOW_S / 2) * rate_hz).astype(int)
    windows = row[np.clip(starts, 0, row.size - size)[:, None] + np.arange(size)]
    ramp = np.linspace(-1, 1, size)
    line = np.stack([np.full(size, size**-0.5), ramp / np.linalg.norm(ramp)])
    windows = windows - (windows @ line.T) @ line
    hann = 0.5 - 0.5 * np.cos(2 * np.pi * np.arange(size) / size)
    return np.fft.rfftfreq(size, 1 / rate_hz), np.abs(np.fft.rfft(windows * hann)) ** 2


def carries_rolling(copy: SlowCopy, high_pass_hz: float | None) -> bool:
    """Whether the recording still holds 0.2-0.6 Hz, by its header and by its spectrum.

    Parameters
    ----------
    copy : SlowCopy
    high_pass_hz : float | None
        Of the recorder, as the header names it.
    """
    if high_pass_hz is not None and high_pass_hz > SLOWEST_HZ:
        return False
    row = next(iter(copy.rows.values()), np.empty(0))
    if row.size < round(2 * WINDOW_S * copy.rate_hz):
        return False
    middles = np.arange(WINDOW_S / 2, row.size / copy.rate_hz - WINDOW_S / 2, WINDOW_S / 2)
    differences = [_slow_over_faster_db(values, copy.rate_hz, middles) for values in _centred(copy)]
    return float(np.median(differences)) > FLATTENED_DB


def _centred(copy: SlowCopy) -> np.ndarray:
    """Rows less their mean, so that the reference has no part."""
    rows = np.stack(list(copy.rows.values()))
    return rows - rows.mean(axis=0)


def _slow_over_faster_db(row: np.ndarray, rate_hz: float, middles_s: np.ndarray) -> float:
    """Median density in 0.2-0.4 Hz over that in 0.8-1.6 Hz."""
    f, power = _spectra(row, rate_hz, middles_s)
    levels = [
        np.median(power[:, (f > low) & (f < high)].mean(axis=1))
        for low, high in ((0.15, 0.45), (0.75, 1.65))
    ]
    return float(10 * np.log10((levels[0] + _TINY) / (levels[1] + _TINY)))
