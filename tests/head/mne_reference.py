"""The same inverse solution through mne's own functions."""

import mne

from aftersit.bench.library import inverse_operator, recording


def mne_inverse(forward, signal, lambda2: float, noise_v: float, names: list[str]):
    """Estimate by mne's sLORETA, with fixed orientation and no depth weighting.

    `signal` in volts, shape (n_electrodes, n_samples), of the electrodes `names`.
    """
    raw = recording(signal, 256.0, names)
    inverse = inverse_operator(forward, raw, noise_v)
    return mne.minimum_norm.apply_inverse_raw(
        raw, inverse, lambda2, method="sLORETA", verbose="ERROR"
    )
