"""The chain behind a record, and its crate."""

import hashlib
import json
import math
from pathlib import Path

import pytest
from small_archive import ALPHA, TEMPLES, correct_sheet, write_protocol

from aftersit.change.again import largest_difference
from aftersit.change.chain import chains
from aftersit.change.crate import ni, write_crate
from aftersit.change.explain import explain, lines
from aftersit.change.replay import replay
from aftersit.change.select import Request
from aftersit.cli import main
from aftersit.clinic import SittingId
from aftersit.errors import AftersitError
from crate_links import references

RECORD = "derivatives/replay-s1-calm-sea-v1/sub-K07/ses-02/record.json"


@pytest.fixture
def chain(clinic):
    (found,) = chains(clinic, clinic.root / RECORD)
    return found


def test_every_checksum_is_that_of_hashlib(clinic, chain):
    assert len(chain.files) >= 16
    for role, used in chain.files.items():
        if role != "recording":
            expected = hashlib.sha256((clinic.root / used.path).read_bytes()).hexdigest()
            assert used.sha256 == expected, role
    uploaded = hashlib.sha256(b"noise of seed 2").hexdigest()
    assert chain.files["recording"].sha256 == uploaded  # as in the ledger


def test_the_chain_names_stages_settings_versions_and_seed_in_their_order(chain):
    said = lines(chain)
    assert said[0] == (
        "K07/02 under calm-sea version 1, settings s1, algorithms 1, seed 20260301 (in force)"
    )
    stages = [line.split(" ")[0] for line in said if not line.startswith(" ")][1:5]
    assert stages == ["write_bids", "clean_recording", "measure_regions", "replay_protocol"]
    text = "\n".join(said)
    for role in ("recording", "cleaned signal", "region measures", "protocol", "record"):
        assert chain.files[role].sha256 in text
    assert "all files still hold these bytes" in text
    assert f"scripts/aftersit explain CLINIC/{RECORD} --again --clinic CLINIC" in text


def test_a_changed_file_is_named(clinic, chain):
    (signal,) = clinic.root.glob("derivatives/clean-s1/sub-K07/ses-02/eeg/*.eeg")
    signal.write_bytes(signal.read_bytes()[:-4] + b"\x07\x07\x07\x07")
    assert chain.changed() == ["cleaned signal"]
    assert explain(clinic, clinic.root / RECORD, None, False, lambda _: None) == 1


RESULTS = str(Path(RECORD).parent)


ENDS = {
    "recording": "originals/K07/02/r1/sitting.edf",
    "record": RECORD,
    "timeline-cleaned": f"{RESULTS}/timeline-cleaned.tsv",
    "timeline-uncleaned": f"{RESULTS}/timeline-uncleaned.tsv",
}


@pytest.mark.parametrize("role", ENDS)
def test_a_byte_changed_at_either_end_of_the_chain_is_named(clinic, role):
    changed = clinic.root / ENDS[role]
    held = bytearray(changed.read_bytes())
    held[-3] ^= 4
    changed.write_bytes(held)
    said = []
    assert explain(clinic, clinic.root / RECORD, None, False, said.append) == 1
    assert f"not the bytes any more, or gone: {role}" in said


@pytest.mark.parametrize("role", [role for role in ENDS if role != "record"])
def test_what_is_gone_from_either_end_of_the_chain_is_named(clinic, role):
    (clinic.root / ENDS[role]).unlink()
    (chain,) = chains(clinic, clinic.root / RECORD)
    assert chain.changed() == [role]


def test_a_figure_edited_by_hand_is_no_figure_that_was_made(clinic):
    told = json.loads((clinic.root / RECORD).read_text())
    told["cleaned"]["in_target_share"] = 0.9375
    (clinic.root / RECORD).write_text(json.dumps(told))
    assert explain(clinic, clinic.root / RECORD, None, False, lambda _: None) == 1


@pytest.mark.parametrize("role", [role for role in ENDS if role != "recording"])
def test_no_crate_vouches_for_what_was_changed(clinic, tmp_path, role):
    """A crate that holds other bytes than its checksums say would be refused by who gets it."""
    path = clinic.root / ENDS[role]
    path.write_text(path.read_text().replace("0.", "1.", 1))
    said = []
    with pytest.raises(AftersitError) as refused:
        explain(clinic, clinic.root / RECORD, tmp_path / "crate", False, said.append)
    assert str(refused.value) == (
        f"no crate of K07/02 under calm-sea version 1: {role} is not what was written, or gone; "
        "make it again with `replay --protocol calm-sea --version 1 --clients K07`"
    )
    assert f"not the bytes any more, or gone: {role}" in said
    assert not (tmp_path / "crate").exists()


def test_after_the_command_that_is_named_the_crate_can_be_written(clinic, tmp_path):
    path = clinic.root / RECORD
    path.write_text(path.read_text().replace("0.", "1.", 1))
    request = Request(protocol="calm-sea", version=1, clients=("K07",))
    assert replay(clinic, request, lambda _: None).rules["replay_protocol"] == 1
    assert explain(clinic, path, tmp_path / "crate", False, lambda _: None) == 0
    graph = json.loads((tmp_path / "crate" / "ro-crate-metadata.json").read_text())["@graph"]
    for entity in graph:
        if entity["@id"].startswith("files/"):
            held = (tmp_path / "crate" / entity["@id"]).read_bytes()
            assert entity["sha256"] == hashlib.sha256(held).hexdigest()


def test_what_nothing_tells_the_checksum_of_is_not_said_to_stand(clinic):
    path = clinic.root / RESULTS / "made_from.json"
    told = json.loads(path.read_text())
    del told["results"]
    path.write_text(json.dumps(told))
    (chain,) = chains(clinic, clinic.root / RECORD)
    said = lines(chain)
    assert "all files still hold these bytes" not in said
    assert "all other files still hold these bytes" in said
    assert (
        "not checked, since nothing says what it held: record, timeline-cleaned, timeline-uncleaned"
    ) in said


def test_the_recording_of_the_newest_sheet_is_the_one_checked(clinic):
    """The newest revision's folder is the one that is read."""
    correct_sheet(clinic, "K07", 2)
    (clinic.original(SittingId("K07", 2), 2) / "sitting.edf").write_bytes(b"noise of seed 3")
    (chain,) = chains(clinic, clinic.root / RECORD)
    assert chain.changed() == ["recording"]


def test_a_result_that_is_not_in_force_says_so(clinic):
    write_protocol(clinic, 2, (ALPHA | {"threshold": {"absolute": 7.5}}, TEMPLES))
    replay(clinic, Request(protocol="calm-sea", version=2, only_try=True), lambda _: None)
    (tried,) = chains(clinic, clinic.root / RECORD.replace("-v1", "-v2"))
    assert lines(tried)[0].endswith("(not in force)")


def test_no_name_of_an_uploaded_file_is_told(clinic, chain):
    (clinic.root / "originals/K07/02/r1/Erika_Mustermann.edf").write_bytes(b"x")
    assert "Mustermann" not in "\n".join(lines(chain))


@pytest.mark.parametrize(
    ("what", "told"),
    [
        ("K07/09", "no sitting K07/09"),
        ("sitting.yaml", "is no record; give CLIENT/NUMBER"),
        (RECORD.replace("v1", "v5"), "make it again with `replay --protocol calm-sea --version 5`"),
    ],
)
def test_what_is_no_record_is_told(clinic, capsys, what, told):
    path = what if what.startswith("K07") else str(clinic.root / what)
    assert main(["explain", path, "--clinic", str(clinic.root)]) == 1
    assert told in capsys.readouterr().err


def test_largest_difference_is_relative_and_infinite_for_other_words():
    one = {"a": [2.5, {"b": 4.0}], "c": "x", "d": None}
    two = {"a": [2.5, {"b": 5.0}], "c": "x", "d": None}
    assert largest_difference(one, two) == pytest.approx(0.2)
    assert largest_difference(one, one | {"c": "y"}) == math.inf
    assert largest_difference(one, one | {"e": 3.5}) == math.inf


def test_bytes_are_named_by_checksum_as_rfc_6920_does():
    """RFC 6920, section 8.1: 'Hello World!'."""
    checksum = hashlib.sha256(b"Hello World!").hexdigest()
    assert ni(checksum) == "ni:///sha-256;f4OxZX_x_FO5LcGBSKHWXfwtSx-j1ncoSt3SABJtkGk"


@pytest.fixture
def crate(chain, tmp_path):
    path = write_crate(chain, tmp_path / "crate")
    return path.parent, {e["@id"]: e for e in json.loads(path.read_text())["@graph"]}


def test_the_crate_claims_the_profiles_at_its_root(crate):
    """Workflow Run Crate 0.5: the root claims the three profiles, and has one main workflow."""
    _, graph = crate
    claimed = {one["@id"] for one in graph["./"]["conformsTo"]}
    assert claimed == {
        "https://w3id.org/ro/wfrun/process/0.5",
        "https://w3id.org/ro/wfrun/workflow/0.5",
        "https://w3id.org/workflowhub/workflow-ro-crate/1.0",
    }
    main_one = graph[graph["./"]["mainEntity"]["@id"]]
    assert set(main_one["@type"]) == {"File", "SoftwareSourceCode", "ComputationalWorkflow"}


def test_every_reference_within_the_crate_is_described(crate):
    _, graph = crate
    far = ("https://w3id.org/ro/crate/", "http://schema.org/")
    far += ("https://snakemake.readthedocs.io", "https://doi.org/")  # rocrate's own, of Snakemake
    dangling = {r for e in graph.values() for r in references(e) if r not in graph}
    assert {r for r in dangling if not r.startswith(far)} == set()


def test_every_file_of_the_crate_is_there_with_its_checksum(crate):
    folder, graph = crate
    files = [e for e in graph.values() if "File" in e["@type"] and e["@id"].startswith("files/")]
    assert len(files) == 6
    for one in files:
        assert hashlib.sha256((folder / one["@id"]).read_bytes()).hexdigest() == one["sha256"]


def test_the_run_takes_and_gives_what_the_chain_says(crate, chain):
    _, graph = crate
    run = graph["#run"]
    objects = {one["@id"] for one in run["object"]}
    assert ni(chain.files["recording"].sha256) in objects
    assert {"#seed", "#algorithms"} <= objects
    assert graph["#seed"]["value"] == "20260301"
    assert {one["@id"] for one in run["result"]} == {
        "files/record.json",
        "files/timeline-cleaned.tsv",
        "files/timeline-uncleaned.tsv",
    }


def test_the_crate_is_the_same_bytes_twice(chain, crate, tmp_path):
    folder, _ = crate
    again = write_crate(chain, tmp_path / "again")
    assert again.read_bytes() == (folder / "ro-crate-metadata.json").read_bytes()


def test_a_crate_is_never_written_over_something(chain, crate):
    with pytest.raises(AftersitError, match="is not empty; give a new folder"):
        write_crate(chain, crate[0])
