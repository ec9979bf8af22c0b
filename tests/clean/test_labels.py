"""Component labels: our features against mne-icalabel's; the network's promises."""

import mne
import numpy as np
import pytest
from simulated import NAMES, SETTINGS, blinks, quiet

from aftersit import sphere
from aftersit.clean import filters, iclabel
from aftersit.clean.components import decompose
from aftersit.plain_yaml import load_plain_yaml


@pytest.fixture(scope="module")
def fitted():
    """The same decomposition for us and as an ICA object of mne's."""
    recording = quiet(40)
    x = recording.x + blinks(recording, 120, 3)
    x = filters.band_pass(x - x.mean(axis=0), 256, 1, 100, 3)
    return x, decompose(x, SETTINGS.components, 11)


def as_mne(x: np.ndarray, found, rate_hz: float):
    """mne's raw and ICA with our matrices inside and the same electrode positions."""
    raw = mne.io.RawArray(x * 1e-6, mne.create_info(NAMES, rate_hz, "eeg"), verbose="ERROR")
    radius, angle = iclabel.polar(NAMES)
    tilt = np.pi * radius
    places = np.stack([np.sin(tilt) * np.sin(angle), np.sin(tilt) * np.cos(angle), np.cos(tilt)], 1)
    montage = mne.channels.make_dig_montage(
        dict(zip(NAMES, 0.09 * places, strict=True)), coord_frame="head"
    )
    raw.set_montage(montage)
    raw.set_eeg_reference("average", verbose="ERROR")
    with raw.info._unlock():
        raw.info["highpass"], raw.info["lowpass"] = 1.0, 100.0
    fit_params = {"ortho": False, "extended": True}
    ica = mne.preprocessing.ICA(method="picard", fit_params=fit_params)
    n = len(found.unmixing)
    ica.n_components_, ica.ch_names = n, NAMES
    ica.info, ica.current_fit = raw.info, "raw"
    # With unit variances and an identity for the electrodes, its weights are ours.
    ica.pca_explained_variance_ = np.ones(19)
    ica.pca_components_ = np.linalg.qr(found.unmixing.T)[0].T
    ica.unmixing_matrix_ = found.unmixing @ ica.pca_components_.T
    return raw, ica


def test_features_equal_those_of_mne_icalabel(fitted):
    from mne_icalabel.iclabel import get_iclabel_features

    x, found = fitted
    topo, psd, autocorr = get_iclabel_features(*as_mne(x, found, 256.0))
    activations = found.unmixing @ x
    ours = iclabel.topography_images(found.mixing, NAMES) * iclabel.SCALE
    np.testing.assert_allclose(ours, topo[:, :, 0].transpose(2, 0, 1), atol=2e-3)
    ours = iclabel.spectrum_feature(activations, 256.0) * iclabel.SCALE
    np.testing.assert_allclose(ours, psd[0, :, 0].T, atol=2e-3)
    ours = iclabel.autocorrelation_feature(activations, 256.0) * iclabel.SCALE
    np.testing.assert_allclose(ours, autocorr[0, :, 0].T, atol=2e-3)


def test_probabilities_equal_those_of_mne_icalabel(fitted):
    from mne_icalabel.iclabel import iclabel_label_components

    x, found = fitted
    raw, ica = as_mne(x, found, 256.0)
    theirs = iclabel_label_components(raw, ica, inplace=False, backend="onnx")
    ours = iclabel.label_components(found.mixing, found.unmixing @ x, NAMES, 256.0)
    np.testing.assert_allclose(ours, theirs, atol=5e-3)
    np.testing.assert_allclose(ours.sum(axis=1), 1, rtol=1e-5)
    assert iclabel.CLASSES[int(ours[0].argmax())] == "eye"


def test_sphere_positions_agree_with_mnes_template():
    """Within 12 degrees of fsaverage's 10-20 positions, seen from their common centre."""
    placed = mne.channels.make_standard_montage("fsaverage_1020").get_positions()["ch_pos"]
    theirs = np.array([placed[name] for name in NAMES])
    a = np.c_[2 * theirs, np.ones(19)]
    centre = np.linalg.lstsq(a, (theirs**2).sum(axis=1), rcond=None)[0][:3]
    theirs = (theirs - centre) / np.linalg.norm(theirs - centre, axis=1, keepdims=True)
    table = load_plain_yaml(sphere.TABLE)
    tilt, angle = np.deg2rad([table[name] for name in NAMES]).T
    ours = np.stack([np.sin(tilt) * np.sin(angle), np.sin(tilt) * np.cos(angle), np.cos(tilt)], 1)
    u, _, v = np.linalg.svd(ours.T @ theirs)
    apart = np.rad2deg(np.arccos(np.clip((ours @ u @ v * theirs).sum(axis=1), -1, 1)))
    assert apart.max() < 12
