"""The same inverse solution through mne's own functions."""

import mne

from aftersit.head.model import MONTAGE


def mne_inverse(forward, signal, lambda2: float, noise_v: float, names: list[str]):
    """Estimate by mne's sLORETA, with fixed orientation and no depth weighting.

    `signal` in volts, shape (n_electrodes, n_samples), of the electrodes `names`.
    """
    info = mne.create_info(names, 256.0, "eeg")
    info.set_montage(MONTAGE)
    raw = mne.io.RawArray(signal, info, verbose="ERROR")
    raw.set_eeg_reference(projection=True, verbose="ERROR")
    noise = mne.make_ad_hoc_cov(raw.info, std={"eeg": noise_v}, verbose="ERROR")
    inverse = mne.minimum_norm.make_inverse_operator(
        raw.info, forward, noise, loose=0.0, depth=None, fixed=True, verbose="ERROR"
    )
    return mne.minimum_norm.apply_inverse_raw(
        raw, inverse, lambda2, method="sLORETA", verbose="ERROR"
    )
