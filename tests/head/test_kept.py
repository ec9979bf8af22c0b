"""Measures are made once for each set of good electrodes."""

from dataclasses import replace

import pytest

from aftersit.head import kept
from aftersit.head.kept import kept_measures, set_name
from aftersit.head.region_set import RegionSet

GOOD = ("Fp1", "F8", "T7", "Cz", "Pz", "O2")


@pytest.fixture
def own_model(model, tmp_path):
    folder = tmp_path / "standard19"
    folder.mkdir()
    for path in (model.head, model.plausible):
        (folder / path.name).write_bytes(path.read_bytes())
    paths = {"head": folder / "head.npz", "plausible": folder / "plausible.npz"}
    return replace(model, regions=RegionSet(), **paths)


def test_second_call_only_reads(own_model, monkeypatch):
    first, path = kept_measures(own_model, GOOD)
    monkeypatch.setattr(kept, "region_measures", None)
    again, same = kept_measures(own_model, GOOD)
    assert (path, path.parent.name) == (same, "sets")
    assert again.heard("insula-right", "selective") == first.heard("insula-right", "selective")
    assert again.heard("insula-right").contrast_spread_db > 0
    assert again.good == GOOD


def test_name_tells_all_that_matters_apart(own_model):
    union = RegionSet().with_unions({"a-b": ["insula", "cuneus"]})
    changed = own_model.settings.model_copy(update={"snr": 2.5})
    models = [own_model, replace(own_model, regions=union), replace(own_model, settings=changed)]
    models.append(replace(own_model, seed=own_model.seed + 1))
    names = {set_name(one, GOOD) for one in models}
    names |= {set_name(own_model, GOOD[::-1]), set_name(own_model, GOOD[:-1])}
    for path in (own_model.head, own_model.plausible):
        path.write_bytes(path.read_bytes() + b" ")
        names.add(set_name(own_model, GOOD))
    assert len(names) == 8
    assert {name.split("-")[0] for name in names} == {"5", "6"}
