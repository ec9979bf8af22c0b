"""Signals that are read when needed: the samples of mne's reader, one file at a time if large."""

from dataclasses import replace

import mne
import numpy as np
import pytest

from aftersit.replay import on_disk
from aftersit.replay.files import read_signal
from aftersit.replay.muscle import _Microvolts
from small_uploads import write_brainvision

WANTED = ("O2", "Cz", "F7")


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    made = []
    for name in ("a", "b"):
        folder = tmp_path_factory.mktemp(name)
        write_brainvision(folder)
        made.append(folder / "rec.vhdr")
    return made


@pytest.mark.parametrize(("most_bytes", "held"), [(10**9, 2), (10, 1)])
def test_samples_are_those_of_the_reader_however_few_are_held(files, monkeypatch, most_bytes, held):
    monkeypatch.setattr(on_disk, "HELD_BYTES", most_bytes)
    shelf = on_disk.Shelf()
    for _ in range(2):
        for file in files:
            found = replace(read_signal(file, WANTED, shelf), mains_hz=60.0)
            raw = mne.io.read_raw_brainvision(file, verbose="ERROR")
            np.testing.assert_array_equal(found.samples, raw.get_data(picks=list(WANTED)))
    assert len(shelf.held) == held


def test_pieces_in_microvolts_are_parts_of_the_whole():
    samples = np.random.default_rng(5).normal(scale=3e-5, size=(4, 700))
    whole = samples[[2, 0, 3]] * 1e6
    made = _Microvolts(samples, [2, 0, 3])
    assert made.shape == whole.shape
    np.testing.assert_array_equal(made[:, 37:411], whole[:, 37:411])
