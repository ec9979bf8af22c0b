"""Measures are made once for each set of good electrodes."""

import pytest

from aftersit.head import kept
from aftersit.head.kept import kept_measures, set_name
from aftersit.head.region_set import RegionSet

GOOD = ("Fp1", "F8", "T7", "Cz", "Pz", "O2")
FEW = RegionSet()


@pytest.fixture
def own_head(head_file, tmp_path):
    path = tmp_path / "standard19" / "head.npz"
    path.parent.mkdir()
    path.write_bytes(head_file.read_bytes())
    return path


def test_second_call_only_reads(own_head, settings, monkeypatch):
    first, path = kept_measures(own_head, GOOD, settings, FEW)
    monkeypatch.setattr(kept, "region_measures", None)
    again, same = kept_measures(own_head, GOOD, settings, FEW)
    assert (path, path.parent.name) == (same, "sets")
    assert again.heard("insula-right", "selective") == first.heard("insula-right", "selective")
    assert again.good == GOOD


def test_name_tells_all_that_matters_apart(own_head, settings):
    changed = settings.model_copy(update={"snr": 2.5})
    union = RegionSet().with_unions({"a-b": ["insula", "cuneus"]})
    names = {
        set_name(own_head, GOOD, settings, FEW),
        set_name(own_head, GOOD[::-1], settings, FEW),
        set_name(own_head, GOOD[:-1], settings, FEW),
        set_name(own_head, GOOD, changed, FEW),
        set_name(own_head, GOOD, settings, union),
    }
    own_head.write_bytes(own_head.read_bytes() + b" ")
    names.add(set_name(own_head, GOOD, settings, FEW))
    assert len(names) == 6
    assert {name.split("-")[0] for name in names} == {"5", "6"}
