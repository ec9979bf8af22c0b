import dataclasses
import importlib.util
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from cases import (
    BLOCKS,
    KEYS,
    NAMES,
    RATE_HZ,
    SETTINGS,
    TWO,
    condition,
    noise,
    protocol,
    quality,
    regions,
    replay,
    sitting,
)

from aftersit.blocks import to_events
from aftersit.errors import AftersitError
from aftersit.evidence.invented import write_signal
from aftersit.head.crossfile import save_cross
from aftersit.head.measures import save_region_measures
from aftersit.head.spectra import BlockSpectrum, cross_spectrum
from aftersit.record import Record
from aftersit.replay import files
from aftersit.replay.files import Inputs, replay_files, write_replayed
from aftersit.replay.timeline import write_timeline
from aftersit.settings import load_settings

STEM = "sub-K07_ses-03_task-sitting"
SCRIPT = Path(__file__).parents[2] / "scripts" / "replay_protocol.py"
SETTINGS_FILE = SCRIPT.parents[1] / "config" / "settings" / "s1.yaml"


@pytest.fixture(scope="module")
def inputs(tmp_path_factory) -> Inputs:
    """A sitting's files; one electrode more in the raw recording than cleaning kept."""
    folder = tmp_path_factory.mktemp("clinic")
    raw, clean = folder / f"{STEM}_eeg.vhdr", folder / f"{STEM}_desc-clean_eeg.vhdr"
    write_signal(raw, np.vstack([noise(80), noise(80, seed=9, n=1)]), [*NAMES, "Pz"], RATE_HZ)
    write_signal(clean, noise(80), NAMES, RATE_HZ)
    found = quality((*NAMES, "Pz"), bad=("Pz",), spans=((30, 31, "pop"),))
    clean.with_suffix(".json").write_text(json.dumps({"Quality": found.model_dump(mode="json")}))
    raw.with_suffix(".json").write_text(json.dumps({"Practice": "open-monitoring"}))
    to_events(list(BLOCKS)).to_csv(folder / f"{STEM}_events.tsv", sep="\t", index=False)
    save_region_measures(regions(), folder / "regions.npz")
    rise = np.where(np.arange(round(80 * RATE_HZ)) < 50 * RATE_HZ, 1, 2**0.5)
    save_cross(block_spectra(noise(80) * rise), NAMES, (0.5, 40), folder / "cross.npz")
    return Inputs(raw, clean, folder / "regions.npz", folder / "head.npz", folder / "cross.npz")


def block_spectra(signal) -> list[BlockSpectrum]:
    signal = signal - signal.mean(axis=0)
    return [
        BlockSpectrum(b.index, cross_spectrum(signal, RATE_HZ, [(b.start_s, b.stop_s)], 2, 0.5))
        for b in BLOCKS
    ]


@pytest.fixture
def chosen(monkeypatch):
    """The tests' settings; region matrices of the uncleaned replay without a head."""
    with_pz = regions((*NAMES, "Pz"), seed=14)
    matrices = {key: with_pz.matrix(key) for key in KEYS}
    monkeypatch.setattr(files, "_matrices", lambda *_: matrices)
    return load_settings("s1").model_copy(update={"replay": SETTINGS})


def test_files_give_what_arrays_give(inputs, chosen):
    found = replay_files(inputs, protocol(*TWO), "s1", chosen).record
    arrays = sitting(found=quality((*NAMES, "Pz"), bad=("Pz",), spans=((30, 31, "pop"),)))
    expected = replay(arrays, protocol(*TWO)).record
    assert (found.client, found.sitting, found.settings) == ("K07", 3, "s1")
    assert found.cleaned.thresholds == pytest.approx(expected.cleaned.thresholds, rel=1e-5)
    assert found.cleaned.in_target_share == pytest.approx(
        expected.cleaned.in_target_share, abs=0.01
    )
    assert found.uncleaned.blocks[1].seconds.bad_s == 0 < found.cleaned.blocks[1].seconds.bad_s


def test_record_says_what_both_measures_and_the_slope_show(inputs, chosen):
    """Noise that rises by 3 dB at 50 s: both measures of a region show it, and so do electrodes."""
    found = replay_files(inputs, protocol(*TWO), "s1", chosen).record
    alpha, temples = found.evidence
    assert (alpha.condition, temples.condition) == ("alpha", "temples")
    last = alpha.blocks[-1]
    assert (last.base, last.eyes_differ) == (1, False)
    assert last.own.db == pytest.approx(3, abs=1)
    assert last.own.low_db < last.own.db < last.own.high_db
    assert last.other.db == pytest.approx(3, abs=1)
    assert last.agreement == "neither"
    assert (alpha.blocks[0].own, temples.blocks[-1].other) == (None, None)
    assert temples.blocks[-1].own.low_db > 0


def test_cross_spectra_of_other_electrodes_are_refused(inputs, chosen, tmp_path):
    save_cross(block_spectra(noise(80)), NAMES[::-1], (0.5, 40), tmp_path / "cross.npz")
    wrong = dataclasses.replace(inputs, cross=tmp_path / "cross.npz")
    with pytest.raises(AftersitError, match=r"cross\.npz is for other electrodes; measure the"):
        replay_files(wrong, protocol(*TWO), "s1", chosen)


def test_uncleaned_matrices_are_made_for_regions_alone(monkeypatch):
    """Of all electrodes of the raw recording, both kinds; electrode groups need none."""
    asked = []

    def matrix_for(_, names, key, __, measure, of):
        asked.append((len(names), key, measure, of))
        return np.eye(len(names))

    monkeypatch.setattr("aftersit.head.model.load_head", lambda _: None)
    monkeypatch.setattr("aftersit.head.regions.matrix_for", matrix_for)
    selective = {"region": "insula", "hemisphere": "right", "measure": "selective"}
    rules = protocol(*TWO, condition("deep", selective, absolute=4.0))
    names = (*NAMES, "Pz")
    found = files._matrices(rules, None, names, regions(), load_settings("s1"))
    assert set(found) == {"precuneus-both", "insula-right/selective"}
    assert sorted(one[:3] for one in asked) == [
        (6, "insula-right", "selective"),
        (6, "precuneus-both", "sloreta"),
    ]


def test_the_uncleaned_replay_hears_the_electrode_that_cleaning_left_out(inputs, chosen):
    found = replay_files(inputs, protocol(*TWO), "s1", chosen).record
    assert found.uncleaned.thresholds["temples"] != found.cleaned.thresholds["temples"]


def test_two_runs_write_the_same_bytes_that_read_back(inputs, chosen, tmp_path):
    for name in ("one", "two"):
        replayed = replay_files(inputs, protocol(*TWO), "s1", chosen)
        write_replayed(replayed, tmp_path / name)
    written = sorted(p.name for p in (tmp_path / "one").iterdir())
    assert written == ["record.json", "timeline-cleaned.tsv", "timeline-uncleaned.tsv"]
    for name in written:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    text = (tmp_path / "one" / "record.json").read_text()
    assert text.endswith("}\n")
    assert Record.model_validate_json(text).client == "K07"


def test_a_timeline_reads_back(inputs, chosen, tmp_path):
    replayed = replay_files(inputs, protocol(*TWO), "s1", chosen)
    write_replayed(replayed, tmp_path)
    path = tmp_path / "timeline-cleaned.tsv"
    table = pd.read_csv(path, sep="\t", na_values="n/a", keep_default_na=False)
    assert list(table.columns) == [
        "time_s",
        "block",
        "state",
        "deciding",
        "swung",
        "alpha_value",
        "alpha_threshold",
        "alpha_met",
        "temples_value",
        "temples_threshold",
        "temples_met",
    ]
    expected = replayed.timelines["cleaned"]
    assert table["state"].tolist() == expected["state"].tolist()
    np.testing.assert_allclose(table["alpha_value"], expected["alpha_value"], rtol=1e-5)
    assert path.read_text().splitlines()[1] == "0.0000\t1\toutside\tn/a\t0" + "\tn/a" * 6


def test_what_is_not_known_is_written_as_such(tmp_path):
    table = pd.DataFrame({"time_s": [0.125, 12.5], "block": [0, 7], "state": ["outside", "bad"]})
    table["a_value"], table["a_met"] = [np.nan, 1234567.8], [1.0, np.nan]
    write_timeline(table, tmp_path / "t.tsv")
    assert (tmp_path / "t.tsv").read_text() == (
        "time_s\tblock\tstate\ta_value\ta_met\n"
        "0.1250\tn/a\toutside\tn/a\t1\n"
        "12.5000\t7\tbad\t1.23457e+06\tn/a\n"
    )


def test_regions_of_other_electrodes_are_refused(inputs, chosen, tmp_path):
    other = tmp_path / "other_regions.npz"
    save_region_measures(regions(NAMES[:-1]), other)
    wrong = dataclasses.replace(inputs, regions=other)
    with pytest.raises(
        AftersitError, match=r"other_regions\.npz is for .*measure the regions again"
    ):
        replay_files(wrong, protocol(*TWO), "s1", chosen)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("recording_eeg.vhdr", "recording_eeg.vhdr is not named sub-<client>_ses-<number>_"),
        ("sub-K07_ses-03_task-other_eeg.vhdr", "task-other_eeg.vhdr is missing"),
    ],
)
def test_errors_name_the_file(inputs, chosen, name, said):
    wrong = dataclasses.replace(inputs, raw=inputs.raw.with_name(name))
    with pytest.raises(AftersitError) as error:
        replay_files(wrong, protocol(*TWO), "s1", chosen)
    assert said in str(error.value)


def test_the_script_hands_over(inputs, chosen, tmp_path):
    spec = importlib.util.spec_from_file_location("replay_protocol", SCRIPT)
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    rules = tmp_path / "v2.yaml"
    rules.write_text(json.dumps(protocol(*TWO).model_dump(mode="json")))
    facts = tmp_path / "facts.json"
    facts.write_text("{}")
    script.main(
        [
            "--raw",
            str(inputs.raw),
            "--clean",
            str(inputs.clean),
            "--regions",
            str(inputs.regions),
            "--cross",
            str(inputs.cross),
            "--head",
            str(inputs.head),
            "--protocol",
            str(rules),
            "--settings",
            str(SETTINGS_FILE),
            "--label",
            "s1",
            "--facts",
            str(facts),
            "--out",
            str(tmp_path / "out"),
        ]
    )
    record = json.loads((tmp_path / "out" / "record.json").read_text())
    assert record["protocol"] == {"name": "calm-sea", "version": 2}
