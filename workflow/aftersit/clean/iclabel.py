"""Component labels from the ICLabel network, on arrays and one thread.

Features as in Pion-Tonachini et al. 2019, NeuroImage 198:181, in the form in
which mne-icalabel computes them (tests compare the two). That package's own
functions want a fitted `mne.preprocessing.ICA` and start as many threads as
there are cores; only its network file is used here.
"""

from functools import cache
from pathlib import Path

import numpy as np
from scipy import signal

from aftersit.clean.filters import median_power
from aftersit.quality import Component
from aftersit.sphere import angles

CLASSES: tuple[Component, ...] = ("brain", "muscle", "eye", "heart", "mains", "channel", "other")
"""In the network's order."""

N_PIXELS = 32
N_BINS = 100
SCALE = 0.99


def label_components(
    topographies: np.ndarray, activations: np.ndarray, names: list[str], rate_hz: float
) -> np.ndarray:
    """Probability of each class for each component.

    Parameters
    ----------
    topographies : ndarray, shape (n_electrodes, n_components)
        Columns of the mixing matrix, average reference.
    activations : ndarray, shape (n_components, n_samples)
        1-100 Hz, or as far as the recording goes; at least 6 s.
    names : list of str
        Electrodes, in the order of the rows.
    rate_hz : float
        Sampling rate of the activations.

    Returns
    -------
    ndarray, shape (n_components, 7)
        In the order of `CLASSES`; rows sum to 1.
    """
    maps = topography_images(topographies, names) * SCALE
    features = [
        np.concatenate([maps, -maps, maps[:, :, ::-1], -maps[:, :, ::-1]])[:, None],
        np.tile(spectrum_feature(activations, rate_hz) * SCALE, (4, 1))[:, None, None],
        np.tile(autocorrelation_feature(activations, rate_hz) * SCALE, (4, 1))[:, None, None],
    ]
    topo, psds, autocorr = (part.astype(np.float32) for part in features)
    return _session().run(None, {"topo": topo, "psds": psds, "autocorr": autocorr})[0]


@cache
def _session():
    from importlib.util import find_spec

    import onnxruntime

    package = Path(find_spec("mne_icalabel").origin).parent
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    network = package / "iclabel" / "network" / "assets" / "ICLabelNet.onnx"
    return onnxruntime.InferenceSession(
        network.read_bytes(), options, providers=["CPUExecutionProvider"]
    )


def polar(names: list[str]) -> tuple[np.ndarray, np.ndarray]:
    """Radius (0.5 at 90 degrees from the vertex) and angle from the nose in radians."""
    from_vertex, from_nose = angles(names)
    return from_vertex / 180, np.deg2rad(from_nose)


def topography_images(topographies: np.ndarray, names: list[str]) -> np.ndarray:
    """Images of the maps, shape (n_components, 32, 32), largest value 1, 0 outside the head."""
    images = topographies.T @ _interpolation(tuple(names)).T
    images /= np.abs(images).max(axis=1, keepdims=True) + 1e-30
    return images.reshape(-1, N_PIXELS, N_PIXELS)


@cache
def _interpolation(names: tuple[str, ...]) -> np.ndarray:
    """Biharmonic spline from electrodes to pixels, shape (1024, n_electrodes).

    Sandwell 1987, Geophys Res Lett 14:139.
    """
    radius, angle = polar(list(names))
    # Electrodes below the circle of 90 degrees are drawn inwards onto the disc.
    radius = radius * 0.5 / max(0.5, min(1.0, radius.max() * 1.02))
    places = radius * np.exp(1j * angle)
    axis = np.linspace(-0.5, 0.5, N_PIXELS)
    pixels = (axis[:, None] + 1j * axis[None, :]).T.ravel()
    weights = _green(np.abs(pixels[:, None] - places)) @ np.linalg.pinv(
        _green(np.abs(places[:, None] - places))
    )
    weights[np.abs(pixels) > 0.5] = 0.0
    return weights.reshape(N_PIXELS, N_PIXELS, -1).transpose(1, 0, 2).reshape(N_PIXELS**2, -1)


def _green(distance: np.ndarray) -> np.ndarray:
    return distance**2 * (np.log(np.maximum(distance, 1e-12)) - 1)


def spectrum_feature(activations: np.ndarray, rate_hz: float) -> np.ndarray:
    """Median log spectrum at 1-100 Hz, largest magnitude 1, shape (n_components, 100)."""
    size = int(rate_hz)
    step = int(np.ceil(size / 2))
    n_bins = min(size // 2, N_BINS)
    window = np.hamming(size)
    power = median_power(activations, window, step, centred=False)
    double = np.full(power.shape[1], 2.0)
    double[-1] -= size % 2 == 0
    density = power * double / (rate_hz * (window**2).sum())
    level = 20 * np.log10(density[:, 1 : n_bins + 1])
    level = np.pad(level, ((0, 0), (0, N_BINS - n_bins)), mode="edge")
    for mains_hz in (50, 60):
        beside = level[:, [mains_hz - 2, mains_hz]]
        notched = (beside - level[:, [mains_hz - 1]] > 5).all(axis=1)
        level[notched, mains_hz - 1] = beside[notched].mean(axis=1)
    return level / np.abs(level).max(axis=1, keepdims=True)


def autocorrelation_feature(activations: np.ndarray, rate_hz: float) -> np.ndarray:
    """Autocorrelation at lags of 0.01-1 s, shape (n_components, 100)."""
    rate = int(rate_hz)
    size = min(3 * rate, activations.shape[1])
    step = int(np.ceil(size / 2))
    starts = np.arange(0, activations.shape[1] - size + 1, step)
    power = np.zeros((len(activations), (n_fft := 1 << (2 * size - 2).bit_length()) // 2 + 1))
    for start in starts:
        part = np.fft.rfft(activations[:, start : start + size], n_fft, axis=1)
        power += part.real**2 + part.imag**2
    lags = np.fft.irfft(power, n_fft, axis=1)[:, : rate + 1]
    overlap = (size - np.arange(rate + 1)) / size
    lags = lags / (lags[:, :1] * np.maximum(overlap, 1 / size))
    return signal.resample_poly(lags, N_BINS, rate, axis=1)[:, 1 : N_BINS + 1]
