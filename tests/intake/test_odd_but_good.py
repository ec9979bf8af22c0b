"""Odd recordings that are taken give the right numbers."""

import warnings
from pathlib import Path

import mne
import numpy as np
import pytest

from aftersit.electrodes import STANDARD_19
from aftersit.intake.edf_clock import clock_problem
from aftersit.intake.edf_header import read_edf_header
from aftersit.intake.problems import UploadError
from aftersit.intake.recording import read_recording
from aftersit.intake.text_damage import text_damage
from aftersit.intake.upload_files import find_files
from small_uploads import RATE, SETTINGS, edf_bytes, eeg_uv, make_upload

N = len(STANDARD_19)
HEAD = 256 * (1 + N)


def plain_edf(fields: dict[int, str]) -> bytes:
    """A plain EDF of 19 signals; `fields` is text for all signals by column offset."""
    data = bytearray(edf_bytes(start=None))
    count = int(data[252:256])
    for start, text in fields.items():
        for which in range(N):
            at = 256 + start * count + which * 8
            data[at : at + 8] = text.encode().ljust(8)
    return bytes(data)


def read(folder):
    return read_recording(find_files(folder), SETTINGS, "Europe/Vienna").signal


def test_of_256_electrodes_the_19_are_kept_in_their_order(tmp_path):
    labels = [*[f"E{n}" for n in range(237)], *reversed(STANDARD_19)]
    data = eeg_uv(256)
    signal = read(make_upload(tmp_path / "u", edf_bytes(labels, data)))[:N]
    step = 2 * 3276.7e-6 / 65535
    assert np.abs(signal - data[:236:-1] * 1e-6).max() <= 0.51 * step


@pytest.mark.parametrize(("shift_s", "bad"), [(0.2, False), (0.3, True), (-0.3, True), (40, True)])
def test_the_clock_of_the_records_may_be_a_little_off(tmp_path, shift_s, bad):
    """EDF+ 2.2.4: each record of a continuous file begins when the one before ends."""
    path = tmp_path / "rec.edf"
    data = edf_bytes(annotations=[(1.0, None, "a marker that makes room in every record")])
    at = data.index(b"+37\x14\x14\0")
    new = f"+{37 + shift_s:g}\x14\x14".encode()
    path.write_bytes(data[:at] + new + data[at + len(new) :])
    problem = clock_problem(path, read_edf_header(path))
    assert (problem is not None) == bad
    if bad:
        assert problem.found.startswith(
            f"by its own clock the record at 00:37 begins at {37 + shift_s:.1f}"
        )


def test_no_text_damage_is_seen_in_binary_files(tmp_path):
    path = tmp_path / "rec.edf"
    for cut in (1, 40, 5000):
        path.write_bytes(edf_bytes()[:-cut])
        assert text_damage(path, path.stat().st_size + cut) is None


def test_where_the_reader_stands_makes_no_difference(tmp_path, monkeypatch):
    make_upload(tmp_path / "u")
    monkeypatch.chdir(tmp_path)
    np.testing.assert_array_equal(read(Path("u")), read(tmp_path / "u"))


def test_a_fif_file_that_goes_on_in_another_is_refused(tmp_path):
    """mne writes large recordings in parts, of which the first names the next."""
    info = mne.create_info(list(STANDARD_19), RATE, "eeg", verbose="ERROR")
    data = np.tile(eeg_uv() * 1e-6, (1, 5))
    raw = mne.io.RawArray(data, info, verbose="ERROR")
    folder = make_upload(tmp_path / "u", b"")
    (folder / "rec.edf").unlink()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        raw.save(folder / "rec_raw.fif", fmt="double", split_size="4MB", verbose="ERROR")
    second = folder / "rec_raw-1.fif"
    second.rename(tmp_path / second.name)
    with pytest.raises(UploadError):
        read(folder)
    (tmp_path / second.name).rename(second)
    with pytest.raises(UploadError, match=r"more than one: 2 x \.fif"):
        read(folder)
