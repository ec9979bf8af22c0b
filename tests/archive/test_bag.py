"""The bag: by the package, and read a second time by a few lines of our own."""

import json
import shutil

import bagit
import pytest
from others_tools import manifest_problems

from aftersit.archive.bag import make_bag
from crate_links import references
from crate_validator import contexts, problems, take_network_away


def test_the_package_calls_it_valid(bag):
    assert bagit.Bag(str(bag)).validate(processes=1)
    assert bagit.Bag(str(bag)).version_info == (1, 0)


def test_a_second_reading_finds_nothing(bag):
    assert manifest_problems(bag) == []


def flip(bag):
    path = next((bag / "data").rglob("*_eeg.eeg"))
    data = bytearray(path.read_bytes())
    data[1001] ^= 4
    path.write_bytes(data)


def rename(bag):
    path = next((bag / "data").rglob("*_eeg.eeg"))
    path.rename(path.with_name("other.eeg"))


BREAKS = {
    "a flipped bit": flip,
    "an added file": lambda bag: (bag / "data" / "more.txt").write_text("more"),
    "a dropped file": lambda bag: (bag / "data" / "methods.md").unlink(),
    "a renamed file": rename,
    "a changed tag file": lambda bag: (bag / "bag-info.txt").write_text("Payload-Oxum: 3.2\n"),
}


@pytest.mark.parametrize("case", BREAKS)
def test_both_readings_find_what_is_broken(bag, tmp_path, case):
    copy = tmp_path / "bag"
    shutil.copytree(bag, copy)
    BREAKS[case](copy)
    assert manifest_problems(copy)
    with pytest.raises(bagit.BagError):
        bagit.Bag(str(copy)).validate(processes=1)


def test_times_of_change_tell_nothing(bag):
    assert len({p.stat().st_mtime for p in bag.rglob("*")}) == 1


def test_the_same_files_give_the_same_manifest(tmp_path):
    sums = set()
    for number in (3, 4):
        folder = tmp_path / str(number)
        (folder / "b").mkdir(parents=True)
        for name in ("z.txt", "b/a.txt") if number == 3 else ("b/a.txt", "z.txt"):
            (folder / name).write_text(name)
        sums.add(make_bag(folder, {"Bagging-Date": "2026-04-02"}))
    assert len(sums) == 1


def test_every_file_stands_in_the_crate_and_every_id_resolves(bag):
    """RO-Crate 1.1: https://w3id.org/ro/crate/1.1 (root data entity, data entities)."""
    graph = json.loads((bag / "data" / "ro-crate-metadata.json").read_text())["@graph"]
    entities = {entity["@id"]: entity for entity in graph}
    files = {str(p.relative_to(bag / "data")) for p in (bag / "data").rglob("*") if p.is_file()}
    described = {key for key, entity in entities.items() if entity["@type"] == "File"}
    assert described == files - {"ro-crate-metadata.json"}
    assert entities["./"].keys() >= {"name", "description", "datePublished", "license"}
    assert set(references(graph)) <= {*entities, "https://w3id.org/ro/crate/1.1"}
    assert {part["@id"] for part in entities["./"]["hasPart"]} == described
    made = [e for e in graph if e["@type"] == "CreateAction"]
    assert made
    assert not any({"startTime", "endTime", "agent"} & e.keys() for e in made)


@pytest.mark.filterwarnings("ignore")  # the validator's own packages warn of their future
def test_an_independent_validator_requires_nothing_more_of_the_crate(bag, monkeypatch):
    asked = take_network_away(monkeypatch)
    assert problems(bag / "data", "process-run-crate") == []
    assert set(asked) <= set(contexts())


@pytest.mark.filterwarnings("ignore")
def test_the_validator_would_see_a_fault(bag, tmp_path, monkeypatch):
    take_network_away(monkeypatch)
    shutil.copytree(bag / "data", tmp_path / "crate")
    path = tmp_path / "crate" / "ro-crate-metadata.json"
    told = json.loads(path.read_text())
    for entity in told["@graph"]:
        entity.pop("instrument", None)
    path.write_text(json.dumps(told))
    assert problems(tmp_path / "crate", "process-run-crate") != []


def test_the_readme_says_pseudonymised_and_not_anonymous(bag):
    # GDPR Art. 4(5): what can be attributed with further information is pseudonymised.
    text = (bag / "data" / "README.md").read_text()
    assert "pseudonymised" in text
    assert "anonym" not in text.replace("pseudonym", "")
