"""The clinic on disk, read back with other libraries."""

import hashlib
import itertools
import json
import stat

import edfio
import mne
import numpy as np
import pytest
from short_sittings import SHORT, SHORTS

from aftersit.clinic import ClinicSettings
from aftersit.errors import AftersitError
from aftersit.protocol import load_protocol
from aftersit.protocol_rules import BaselineThreshold
from demo_clinic import plan
from demo_clinic.make import PROTOCOLS, make_demo
from demo_clinic.scenario import BROKEN, SITTINGS
from demo_clinic.sources import Sources


def checksums(root):
    files = sorted(path for path in root.rglob("*") if path.is_file())
    return {
        str(path.relative_to(root)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files
    }


def read(clinic, upload):
    kinds = {".edf": mne.io.read_raw_edf, ".bdf": mne.io.read_raw_bdf}
    kinds[".vhdr"] = mne.io.read_raw_brainvision
    path = next(p for p in (clinic / "inbox" / upload).iterdir() if p.suffix in kinds)
    return kinds[path.suffix](path, preload=True, verbose="ERROR")


def truth(clinic, upload):
    return json.loads((clinic / "truth" / f"{upload}.json").read_text())


def test_the_same_seed_gives_the_same_bytes(clinic, tmp_path, head, protocols):
    make_demo(tmp_path / "again", 11, head, SHORTS, protocols)
    assert checksums(tmp_path / "again") == checksums(clinic)


def test_another_seed_gives_another_recording(clinic, tmp_path, head, protocols):
    make_demo(tmp_path / "other", 12, head, (SHORT,), protocols)
    name = "inbox/short-edf/recording.edf"
    assert checksums(tmp_path / "other")[name] != checksums(clinic)[name]


def test_names_rates_and_lengths_are_read_by_mne(clinic):
    edf, bdf, brainvision = (read(clinic, sitting.upload) for sitting in SHORTS)
    assert edf.ch_names[0] == "EEG Fp1-REF"
    assert {"EEG T3-REF", "EEG T4-REF", "EEG T5-REF", "EEG T6-REF"} < set(edf.ch_names)
    assert {"EEG T7-REF", "EOG"} < set(bdf.ch_names)
    assert {"T7", "ECG"} < set(brainvision.ch_names)
    assert [raw.info["sfreq"] for raw in (edf, bdf, brainvision)] == [256, 256, 500]
    assert [raw.n_times / raw.info["sfreq"] for raw in (edf, bdf, brainvision)] == [90] * 3


def test_all_formats_hold_a_scalp_signal_in_volts(clinic):
    for sitting in SHORTS:
        signal = read(clinic, sitting.upload).get_data()[:19]
        assert 4e-6 < np.median(signal.std(axis=1)) < 60e-6


def test_a_dead_electrode_is_exactly_flat(clinic):
    assert np.ptp(read(clinic, "short-edf").get_data(picks=["EEG P4-REF"])) == 0


def test_headers_hold_an_invented_person_to_scrub(clinic):
    header = edfio.read_edf(clinic / "inbox" / "short-edf" / "recording.edf")
    assert header.patient.name == "Kara_Inventa"
    assert header.patient.birthdate.isoformat() == "1981-05-14"
    assert header.recording.startdate.isoformat() == "2026-02-03"
    assert header.starttime.isoformat() == "09:34:00"


def test_annotations_hold_the_blocks_and_the_rooms_sound(clinic):
    notes = read(clinic, "short-edf").annotations
    settings = ClinicSettings.from_yaml(clinic / "clinic.yaml")
    blocks = [
        (n["onset"], n["duration"], settings.annotations.get(n["description"])) for n in notes
    ]
    assert [b for b in blocks if b[2]] == [
        (0, 20, "baseline"),
        (20, 60, "practice"),
        (80, 10, "rest"),
    ]
    sounds = [n for n in notes if n["description"] == settings.reward_annotation]
    bouts = [
        tile
        for block in truth(clinic, "short-edf")["target"]
        for tile in block["tiles"]
        if tile["in_target"]
    ]
    assert len(sounds) == len(bouts) >= 2
    lags = [s["onset"] - b["start_s"] for s, b in zip(sounds, bouts, strict=True)]
    assert 0.39 < min(lags) < max(lags) < 1.21


def test_the_truth_tiles_each_practice_block(clinic):
    for block in truth(clinic, "short-edf")["target"]:
        tiles = block["tiles"]
        assert (tiles[0]["start_s"], tiles[-1]["stop_s"]) == (20, 80)
        assert all(a["stop_s"] == b["start_s"] for a, b in itertools.pairwise(tiles))
        assert all(a["in_target"] != b["in_target"] for a, b in itertools.pairwise(tiles))


def test_a_condition_that_asks_for_less_is_active_outside_the_target(clinic):
    told = [b for b in truth(clinic, "short-edf")["bursts"] if b["condition"] == "back"]
    assert list(told[0]["active_s"]) == [[0, 20]]
    practice = told[1]
    seconds_of = {key: sum(b - a for a, b in practice[key]) for key in ("met_s", "active_s")}
    assert sum(seconds_of.values()) == pytest.approx(60)
    assert practice["rise_db"] == pytest.approx(3.5)


def test_a_guard_needs_no_activity_and_keeps_no_target_away(sources, protocol):
    front, back = protocol.conditions
    quiet = back.model_copy(update={"threshold": BaselineThreshold(db_over_baseline=2.0)})
    guarded = protocol.model_copy(update={"conditions": (front, quiet)})
    alone = protocol.model_copy(update={"conditions": (front,)})
    assert {b.condition for b in plan.bursts_of(SHORT, guarded, sources, 4)} == {"front"}
    assert plan.target_spans(SHORT, guarded, 4) == plan.target_spans(SHORT, alone, 4)
    assert plan.target_spans(SHORT, protocol, 4) != plan.target_spans(SHORT, alone, 4)


def test_the_truth_lies_outside_the_inbox_and_by_second(clinic):
    assert not list((clinic / "inbox").rglob("*.json"))
    with np.load(clinic / "truth" / "short-bdf.npz") as arrays:
        assert arrays["brain_rms_uv"].shape == (19, 90)
        assert 3 < np.median(arrays["brain_rms_uv"]) < 20


def test_only_the_owner_reads_the_roster(clinic):
    assert stat.S_IMODE((clinic / "roster.csv").stat().st_mode) == 0o600


def test_a_clinic_is_never_overwritten(clinic, head, protocols):
    with pytest.raises(AftersitError, match="holds a clinic already; delete it"):
        make_demo(clinic, 11, head, SHORTS, protocols)


def test_a_missing_protocol_is_named(tmp_path, head, protocols):
    with pytest.raises(AftersitError, match="protocol 'steady-focus' version 1 does not exist"):
        make_demo(tmp_path / "none", 11, head, (BROKEN,), protocols)
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize("sitting", SITTINGS, ids=lambda s: s.upload)
def test_each_sitting_has_its_protocol_and_regions_of_this_head(sitting, head):
    protocol = load_protocol(PROTOCOLS, sitting.protocol, 1)
    assert sitting.practice in protocol.practices
    for burst in plan.bursts_of(sitting, protocol, Sources.of_head(head), 7):
        assert burst.region in set(head.region)
        assert all(b > a for a, b in burst.active)


@pytest.mark.slow
def test_the_whole_clinic_is_the_same_twice_and_small(tmp_path, head):
    for name in ("one", "two"):
        make_demo(tmp_path / name, head=head)
    assert checksums(tmp_path / "one") == checksums(tmp_path / "two")
    size = sum(p.stat().st_size for p in (tmp_path / "one").rglob("*") if p.is_file())
    assert size < 150e6
    assert len(list((tmp_path / "one" / "inbox").iterdir())) == len(SITTINGS) + 1
