"""The head model: what it holds, physics, and the same bytes twice."""

import dataclasses
import hashlib

import mne
import numpy as np
import pytest

from aftersit.electrodes import STANDARD_19
from aftersit.errors import AftersitError
from aftersit.head.atlas import package_file
from aftersit.head.model import build_head, load_head, save_head


def average_reference(gain: np.ndarray) -> np.ndarray:
    return gain - gain.mean(axis=0)


def test_sources_are_the_cortex_of_the_mesh(head):
    assert head.names == STANDARD_19
    assert head.gain.shape == (19, 2 * 10242 - 1038 - 1020)
    assert head.gain.dtype == np.float64
    assert np.isfinite(head.gain).all()
    assert "" not in head.region
    np.testing.assert_allclose(np.linalg.norm(head.normal, axis=1), 1, rtol=1e-6)


def test_sides_and_regions_lie_where_they_should(head):
    """Right, front, up in MNI305."""
    middle = {
        (region, side): head.position_mm[(head.region == region) & (head.hemisphere == side)].mean(
            0
        )
        for region in ("insula", "lateraloccipital", "frontalpole", "precentral")
        for side in ("left", "right")
    }
    assert middle["insula", "left"][0] == pytest.approx(-36, abs=2)
    assert middle["insula", "right"][0] == pytest.approx(37, abs=2)
    assert middle["lateraloccipital", "left"][1] < -75
    assert middle["frontalpole", "right"][1] > 55
    assert middle["precentral", "right"][2] > 35


def test_electrodes_lie_on_the_scalp_of_the_template(head):
    scalp = mne.read_bem_surfaces(
        package_file("mne", "data", "fsaverage", "fsaverage-head.fif"), verbose="ERROR"
    )[0]
    nearest = [np.linalg.norm(scalp["rr"] * 1e3 - e, axis=1).min() for e in head.electrode_mm]
    assert max(nearest) < 12
    place = dict(zip(head.names, head.electrode_mm, strict=True))
    assert place["T7"][0] < -75 < 75 < place["T8"][0]
    assert place["O1"][1] < -100 < 70 < place["Fp2"][1]
    assert place["Cz"][2] == head.electrode_mm[:, 2].max()


def test_gain_has_the_size_of_scalp_potentials(head):
    """10 nA m, a usual cortical dipole, gives microvolts (from memory)."""
    largest_uv = np.abs(average_reference(head.gain)).max(axis=0) * 10e-9 * 1e6
    assert 0.1 < np.median(largest_uv) < 3


def test_saved_head_comes_back(head, tmp_path):
    save_head(head, tmp_path / "head.npz")
    again = load_head(tmp_path / "head.npz")
    for field in dataclasses.fields(head):
        np.testing.assert_array_equal(getattr(again, field.name), getattr(head, field.name))


def test_file_that_is_no_head_is_refused(tmp_path):
    (tmp_path / "head.npz").write_bytes(b"no archive")
    with pytest.raises(AftersitError, match=r"head\.npz can't be read as arrays.*delete it"):
        load_head(tmp_path / "head.npz")


@pytest.mark.slow
def test_two_builds_are_the_same_bytes(head_file, settings, tmp_path):
    save_head(build_head(settings), tmp_path / "again.npz")
    digests = {
        hashlib.sha256(p.read_bytes()).hexdigest() for p in (head_file, tmp_path / "again.npz")
    }
    assert len(digests) == 1


@pytest.mark.slow
def test_larger_montages_are_built_too(settings, head):
    larger = build_head(settings, (*STANDARD_19, "Oz", "TP9"))
    assert larger.gain.shape == (21, head.gain.shape[1])
    np.testing.assert_allclose(larger.gain[:19], head.gain, rtol=1e-9, atol=1e-9)
