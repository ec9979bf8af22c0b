"""All pages of a sitting, from files as they lie in a clinic's folder."""

import datetime as dt
import json
from pathlib import Path

import pikepdf
import pytest
import samples
import yaml
from sample_given import CLINIC, PROTOCOL, SHEET

from aftersit.blocks import to_events
from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.head.measures import save_region_measures
from aftersit.pages.inputs import SittingFiles, read_sitting
from aftersit.pages.review import release
from aftersit.pages.sitting import write_pages


@pytest.fixture
def stored(tmp_path, monkeypatch):
    """The sample sitting as files in a clinic's folder."""
    inputs, replay = samples.scored(), samples.scored().replays[0]
    clinic = Clinic(tmp_path)
    clinic.settings_file.write_text(yaml.safe_dump(CLINIC))
    protocols = clinic.kept_protocols / "warm-attention"
    protocols.mkdir(parents=True)
    (protocols / "v2.yaml").write_text(yaml.safe_dump(PROTOCOL))
    folder = clinic.derivatives / "replay-s1-warm-attention-v2" / "sub-K07" / "ses-03"
    folder.mkdir(parents=True)
    (folder / "record.json").write_text(replay.record.model_dump_json())
    for name in ("cleaned", "uncleaned"):
        getattr(replay, name).to_csv(
            folder / f"timeline-{name}.tsv", sep="\t", index=False, na_rep="n/a"
        )
    files = {
        name: tmp_path / name
        for name in ("sheet", "events", "quality", "bandpower", "spectra", "regions", "head")
    }
    save_region_measures(inputs.regions, files["regions"])
    monkeypatch.setattr("aftersit.pages.inputs.kept_picture", lambda *_: samples.PICTURE)
    files["sheet"].write_text(yaml.safe_dump(SHEET))
    to_events(list(inputs.blocks)).to_csv(files["events"], sep="\t", index=False)
    quality = inputs.quality.model_dump(mode="json")
    files["quality"].write_text(json.dumps({"TaskName": "sitting", "Quality": quality}))
    inputs.bandpower.to_csv(files["bandpower"], sep="\t", index=False)
    inputs.spectra.to_csv(files["spectra"], sep="\t", index=False)
    records = [folder / "record.json"]
    return clinic, SittingFiles(records=records, protocols=clinic.kept_protocols, **files)


def options(clinic, files, folder):
    """As the rule calls the step."""
    named = ("sheet", "events", "quality", "bandpower", "spectra", "regions", "head")
    given = [word for name in named for word in (f"--{name}", str(getattr(files, name)))]
    return [
        *("--clinic", str(clinic.root), "--sitting", "K07/03", "--date", "2026-03-14"),
        *("--settings", "s1", *given, "--records", str(files.records[0])),
        *("--output", str(folder / "clinician.html")),
    ]


def test_the_script_writes_all_pages_twice_to_the_same_bytes(stored, tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(str(Path(__file__).parents[2] / "scripts"))
    from write_pages import main

    clinic, files = stored
    folders = [tmp_path / "first", tmp_path / "second"]
    for folder in folders:
        main(options(clinic, files, folder))
    names = ["clinician.html", "clinician.pdf", "handout.pdf"]
    assert sorted(p.name for p in folders[0].iterdir()) == names
    first, second = ([(f / n).read_bytes() for n in names] for f in folders)
    assert first == second
    assert b"Client K07, sitting 03" in first[0]
    assert b"record, replay-s1-warm-attention-v2" in first[0]
    assert all(page.startswith(b"%PDF-1.7") for page in first[1:])


def test_report_and_handout_bear_the_same_review(stored, tmp_path):
    clinic, files = stored
    sitting = SittingId("K07", 3)
    release(clinic, sitting, "DR2", files.reviewed, dt.date(2026, 3, 16))
    write_pages(clinic, sitting, dt.date(2026, 3, 14), "s1", files, tmp_path / "pages")
    assert "reviewed by DR2" in (tmp_path / "pages" / "clinician.html").read_text()
    with pikepdf.open(tmp_path / "pages" / "handout.pdf") as handout:
        assert len(handout.pages) == 1


def test_what_is_read_equals_what_was_stored(stored):
    _, files = stored
    inputs = samples.scored()
    read = read_sitting(files, inputs.clinic, inputs.settings, inputs.date, {})
    assert read.record == inputs.record
    assert read.blocks == inputs.blocks
    assert read.quality == inputs.quality
    cleaned = read.replays[0].cleaned
    assert list(cleaned["state"]) == list(inputs.replays[0].cleaned["state"])


def test_no_record_is_an_error_in_plain_words(stored):
    _, files = stored
    inputs = samples.scored()
    nothing = SittingFiles(**{**files.__dict__, "records": []})
    with pytest.raises(AftersitError, match=r"need at least one record\.json; none was given"):
        read_sitting(nothing, inputs.clinic, inputs.settings, inputs.date, {})
