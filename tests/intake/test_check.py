"""What intake says of an upload: one clear reason for each thing that is wrong."""

import datetime as dt
import hashlib
import os

import numpy as np
import pytest
import yaml

from aftersit.blocks import Block
from aftersit.electrodes import STANDARD_19
from aftersit.intake.check import check_upload
from aftersit.sheet import Kind
from small_uploads import (
    CLINIC_SETTINGS,
    RATE,
    SECONDS,
    SETTINGS,
    edf_bytes,
    eeg_uv,
    make_clinic,
    make_upload,
    write_brainvision,
    write_fif,
    write_sheet,
)

MARKED = [(2.0, 18.0, "practising"), (20.0, 5.5, "pausing"), (30.0, 30.0, "practising")]


@pytest.fixture
def clinic(tmp_path):
    return make_clinic(tmp_path / "clinic")


def check(folder, clinic):
    return check_upload(folder, clinic, CLINIC_SETTINGS, SETTINGS)


def only_problem(folder, clinic):
    finding = check(folder, clinic)
    assert finding.accepted is None
    (problem,) = finding.problems
    assert problem.todo
    return problem


def test_accepted_upload_is_described(tmp_path, clinic):
    folder = make_upload(tmp_path / "u")
    accepted = check(folder, clinic).accepted
    assert accepted.files == ("rec.edf", "sitting.yaml")
    assert accepted.date == dt.date(2026, 3, 14)
    assert accepted.protocols == {"soft-alpha": 3}
    assert accepted.blocks == (
        Block(1, Kind.BASELINE, 2.0, 20.0, "open", "soft-alpha"),
        Block(2, Kind.PRACTICE, 20.0, 64.0, "closed", "soft-alpha"),
    )
    assert (accepted.duration_s, accepted.rate_hz) == (SECONDS, RATE)
    both = {n: hashlib.sha256((folder / n).read_bytes()).hexdigest() for n in accepted.files}
    assert both == {"rec.edf": accepted.recording_sha256, "sitting.yaml": accepted.sheet_sha256}


def test_checking_changes_nothing(tmp_path, clinic):
    folder = make_upload(tmp_path / "u")
    before = {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()}
    check(folder, clinic)
    assert {p.name: (p.read_bytes(), p.stat().st_mtime_ns) for p in folder.iterdir()} == before


def test_only_protocols_of_practice_blocks_are_pinned(tmp_path, clinic):
    blocks = [
        {"kind": "rest", "start": 1, "end": 9, "protocol": "soft-alpha"},
        {"kind": "practice", "start": 10, "end": 50, "protocol": "quiet-theta"},
    ]
    accepted = check(make_upload(tmp_path / "u", blocks=blocks), clinic).accepted
    assert accepted.protocols == {"quiet-theta": 2}


def test_a_protocol_that_asks_for_a_region_that_nobody_measures_is_refused(tmp_path, clinic):
    """Before it is frozen by its first use; the clinic's own unions count."""
    path = clinic.protocols / "quiet-theta" / "v2.yaml"
    rules = yaml.safe_load(path.read_text())
    rules["conditions"][0]["where"] = {"region": "our-front"}
    path.write_text(yaml.safe_dump(rules))
    folder = make_upload(tmp_path / "u", protocol="quiet-theta")
    (problem,) = check(folder, clinic).problems
    assert (problem.code, problem.place) == ("broken-protocol", "protocols/quiet-theta/v2.yaml")
    assert "conditions.1.where.region: there is no region 'our-front'" in problem.found
    unions = {"unions": {"our-front": ["insula", "superiorfrontal"]}}
    (clinic.root / "regions.yaml").write_text(yaml.safe_dump(unions))
    assert check(folder, clinic).accepted


def test_checksum_covers_all_files_of_a_brainvision_recording(tmp_path, clinic):
    folder = tmp_path / "u"
    folder.mkdir()
    write_sheet(folder)
    write_brainvision(folder)
    parts = b"".join((folder / f"rec.{end}").read_bytes() for end in ("vhdr", "eeg", "vmrk"))
    accepted = check(folder, clinic).accepted
    assert accepted.recording_sha256 == hashlib.sha256(parts).hexdigest()
    assert accepted.files == ("rec.eeg", "rec.vhdr", "rec.vmrk", "sitting.yaml")


def test_blocks_come_from_mapped_annotations(tmp_path, clinic):
    recording = edf_bytes(annotations=[*MARKED, (25.0, None, "cough"), (40.0, 0.4, "tone on")])
    folder = make_upload(tmp_path / "u", recording, blocks="from-annotations")
    blocks = check(folder, clinic).accepted.blocks
    assert [(b.kind.value, b.start_s, b.stop_s) for b in blocks] == [
        ("practice", 2.0, 20.0),
        ("break", 20.0, 25.5),
        ("practice", 30.0, 60.0),
    ]


def test_last_block_is_cut_to_the_recording_within_the_tolerance(tmp_path, clinic):
    blocks = [{"kind": "practice", "start": 3, "end": 64.4}]
    accepted = check(make_upload(tmp_path / "u", blocks=blocks), clinic).accepted
    assert accepted.blocks[0].stop_s == 64.0


def test_sheet_date_wins_and_the_difference_is_noted(tmp_path, clinic):
    accepted = check(make_upload(tmp_path / "u", date="2026-03-15"), clinic).accepted
    assert accepted.date == dt.date(2026, 3, 15)
    (note,) = [n for n in accepted.notes if n.code == "date-differs"]
    assert note.text == "the recording's own date is 2026-03-14; the sheet's date counts"


def test_date_comes_from_the_recording_when_the_sheet_has_none(tmp_path, clinic):
    assert check(make_upload(tmp_path / "u", date=None), clinic).accepted.date.day == 14


def sided(name: str) -> str:
    return f"{name}-{'A1' if name[-1] in '1357' else 'A2'}"


def with_nan(folder):
    data = eeg_uv()
    data[3, 700:702] = np.nan
    write_fif(folder / "rec.fif", data=data)


def edf(folder, *args, **options):
    (folder / "rec.edf").write_bytes(edf_bytes(*args, **options))


@pytest.mark.parametrize(
    ("write", "code", "text"),
    [
        (lambda f: edf(f, [*STANDARD_19, "T3"]), "old-and-new-name", "T7, T3"),
        (lambda f: edf(f, [sided(n) for n in STANDARD_19]), "ear-by-side", "Fp1-A1"),
        (lambda f: edf(f, ["Fp1-F3", "F3-C3", "C3-P3"]), "bipolar", "Fp1-F3, F3-C3, C3-P3"),
        (lambda f: edf(f, STANDARD_19[:15]), "too-few-electrodes", "15 of the 19"),
        (lambda f: edf(f, data=eeg_uv(seconds=59)), "too-short", "59.0 s of signal; allowed: 60"),
        (lambda f: edf(f, data=eeg_uv(rate=64), rate=64), "rate", "64 samples a second"),
        (lambda f: edf(f, unit="mV"), "amplitude-too-large", "is 11.9 mV"),
        (lambda f: edf(f, unit="nV"), "amplitude-too-small", "is 11.9 nV"),
        (lambda f: edf(f, unit="kPa"), "unit-unknown", "Fp1, Fp2, F7, F3 and 15 more"),
        (lambda f: edf(f, data=0 * eeg_uv()), "too-short", "0.0 s of signal"),
        (with_nan, "not-finite", "2 sample(s)"),
        (lambda f: (f / "rec.edf").write_bytes(b"no recording"), "broken-header", "not start"),
        (lambda f: (f / "rec.fif").write_bytes(b"no recording"), "truncated", "ends before"),
        (lambda f: None, "no-recording", "no recording"),
        (lambda f: [edf(f), write_fif(f / "b.fif")], "several-recordings", "1 x .edf, 1 x .fif"),
        (lambda f: [edf(f), (f / "more").mkdir()], "sub-folder", "1 folders inside"),
        (lambda f: [edf(f), os.symlink("rec.edf", f / "x.txt")], "link", "1 links"),
        (lambda f: [edf(f), (f / "scan.pdf").touch()], "foreign-files", "1 file(s)"),
        (lambda f: [write_brainvision(f), (f / "rec.eeg").unlink()], "part-missing", "signal"),
        (lambda f: [edf(f), (f / "sitting.yaml").unlink()], "no-sheet", "no sitting.yaml"),
    ],
)
def test_recording_that_can_not_serve_has_one_reason(tmp_path, clinic, write, code, text):
    folder = tmp_path / "u"
    folder.mkdir()
    write_sheet(folder)
    write(folder)
    problem = only_problem(folder, clinic)
    assert problem.code == code
    assert text in problem.found


@pytest.mark.parametrize(
    ("changes", "code", "place", "text"),
    [
        ({"protocol": "soft-beta"}, "unknown-protocol", "sitting.yaml: protocol", "'soft-beta'"),
        (
            {"blocks": [{"kind": "practice", "start": 1, "end": 9, "protocol": "x"}]},
            "unknown-protocol",
            "sitting.yaml: blocks.1.protocol",
            "allowed: quiet-theta, soft-alpha",
        ),
        (
            {"blocks": [{"kind": "practice", "start": 3, "end": 64.6}]},
            "block-outside",
            "blocks.1",
            "00:03-01:04, but the recording ends at 01:04",
        ),
        (
            {"blocks": [{"kind": "practice", "start": 64.0, "end": 64.3}]},
            "block-outside",
            "blocks.1",
            "ends at 01:04",
        ),
        ({"blocks": "from-annotations"}, "no-blocks", "annotations", "known: pausing, practising"),
        ({"eyes": "half"}, "sheet", "sitting.yaml: eyes", "allowed: open, closed"),
    ],
)
def test_sheet_that_does_not_fit_has_one_reason(tmp_path, clinic, changes, code, place, text):
    problem = only_problem(make_upload(tmp_path / "u", **changes), clinic)
    assert problem.code == code
    assert problem.place.startswith(place)
    assert text in problem.found


@pytest.mark.parametrize(("encoding", "line"), [("latin-1", 3), ("utf-16", 1)])
def test_a_sheet_in_another_encoding_is_told_to_be_saved_anew(tmp_path, clinic, encoding, line):
    folder = make_upload(tmp_path / "u")
    lines = [*(folder / "sitting.yaml").read_text().splitlines()]
    lines.insert(2, "notes: schlief über Mittag")
    (folder / "sitting.yaml").write_bytes("\n".join(lines).encode(encoding))
    problem = only_problem(folder, clinic)
    assert (problem.code, problem.place) == ("sheet-encoding", "sitting.yaml")
    assert problem.found == f"line {line} is not UTF-8 text"
    assert problem.todo == "open sitting.yaml in an editor and save it as UTF-8"


def test_a_sheet_that_is_no_sheet_at_all_is_not_called_a_line(tmp_path, clinic):
    folder = make_upload(tmp_path / "u")
    (folder / "sitting.yaml").write_text("slept badly")
    problem = only_problem(folder, clinic)
    assert (problem.place, problem.found) == (
        "sitting.yaml",
        "the file must hold `key: value` lines",
    )
    assert problem.todo == "write the sheet anew; the README has one to copy"


def test_overlapping_annotations_are_named_with_their_times(tmp_path, clinic):
    recording = edf_bytes(annotations=[(2.0, 18.0, "practising"), (19.0, 5.0, "pausing")])
    problem = only_problem(
        make_upload(tmp_path / "u", recording, blocks="from-annotations"), clinic
    )
    assert problem.code == "blocks-overlap"
    assert "'practising' at 00:02 and 'pausing' at 00:19 overlap" in problem.found


def test_neither_sheet_nor_recording_has_a_date(tmp_path, clinic):
    folder = make_upload(tmp_path / "u", edf_bytes(start=None), date=None)
    assert only_problem(folder, clinic).code == "no-date"


def test_sheet_and_recording_problems_come_together(tmp_path, clinic):
    folder = make_upload(tmp_path / "u", edf_bytes(STANDARD_19[:9]), eyes="half", practice="x")
    codes = [p.code for p in check(folder, clinic).problems]
    assert codes == ["sheet", "sheet", "too-few-electrodes"]


def test_a_header_never_leads_out_of_the_folder(tmp_path, clinic):
    folder = tmp_path / "u"
    folder.mkdir()
    write_sheet(folder)
    write_brainvision(folder)
    (folder / "rec.eeg").rename(tmp_path / "rec.eeg")
    text = (folder / "rec.vhdr").read_text().replace("=rec.eeg", "=../rec.eeg")
    (folder / "rec.vhdr").write_text(text)
    assert only_problem(folder, clinic).code == "part-missing"


def test_a_file_in_the_inbox_is_no_upload(tmp_path, clinic):
    (tmp_path / "rec.edf").write_bytes(edf_bytes())
    assert only_problem(tmp_path / "rec.edf", clinic).code == "not-a-folder"


@pytest.mark.parametrize("position", range(0, 5000, 617))
def test_a_damaged_header_byte_is_a_problem_or_harmless(tmp_path, clinic, position):
    data = bytearray(edf_bytes())
    data[position] ^= 0xFF
    finding = check(make_upload(tmp_path / "u", bytes(data)), clinic)
    assert bool(finding.problems) != bool(finding.accepted)


def test_all_open_recordings_are_accepted(open_data, tmp_path, clinic):
    for number, path in enumerate(sorted(open_data.glob("*/*.edf"))):
        blocks = [{"kind": "practice", "start": "0:00", "end": "1:00"}]
        folder = make_upload(tmp_path / f"u{number}", path.read_bytes(), blocks=blocks)
        assert check(folder, clinic).problems == ()
    assert number == 8
