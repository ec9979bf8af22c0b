import json

import pytest
from quick_nights import receive, run_night
from uploads import make_clinic, make_upload

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Finished, Ledger
from aftersit.night.release import release


@pytest.fixture
def clinic(tmp_path):
    """Two sittings, received and not yet made."""
    clinic = Clinic(make_clinic(tmp_path / "clinic"))
    make_upload(clinic.inbox / "a", 1, client="K07")
    make_upload(clinic.inbox / "b", 2, client="K08")
    receive(clinic)
    return clinic


def tonights_digest(clinic) -> dict:
    (path,) = clinic.reports.glob("nightly/*/digest.json")
    return json.loads(path.read_text())


@pytest.mark.parametrize("gone", [".", "sitting.yaml"])
def test_a_sitting_whose_upload_is_gone_does_not_stop_the_night(clinic, monkeypatch, gone):
    lost = clinic.original(SittingId("K07", 1), 1)
    lost.rename(lost.with_name("away")) if gone == "." else (lost / gone).unlink()
    result, said, asked = run_night(clinic, monkeypatch)
    assert asked == [["K08/01"]]
    assert result.exit_code == 4
    place = "originals/K07/01/r1" + ("" if gone == "." else f"/{gone}")
    reason = f"{place} was there when the sitting was received; put it back"
    assert f"failed K07/01 at inputs: {reason}" in said
    failed = {one["sitting"]: one for one in tonights_digest(clinic)["failed"]}
    assert sorted(failed) == ["K07/01", "K08/01"]
    assert (failed["K07/01"]["todo"], failed["K07/01"]["log"]) == (reason, None)


def test_a_workflow_that_does_not_start_names_its_own_log(clinic, monkeypatch):
    _, said, _ = run_night(clinic, monkeypatch)
    log = ".aftersit/logs/workflow.log"
    assert f"failed K07/01 at write_bids; see {log}" in said
    assert [one["log"] for one in tonights_digest(clinic)["failed"]] == [log, log]


@pytest.mark.parametrize("text", ["Erika Mustermann: x\n", "client: [K07\n", "\x00"])
def test_a_damaged_sheet_is_named_without_what_it_says(clinic, monkeypatch, text):
    sheet = clinic.original(SittingId("K07", 1), 1) / "sitting.yaml"
    sheet.write_text(text)
    result, said, asked = run_night(clinic, monkeypatch)
    assert (asked, result.exit_code) == ([["K08/01"]], 4)
    (line,) = [x for x in said if x.startswith("failed K07/01")]
    assert line.startswith("failed K07/01 at inputs: originals/K07/01/r1/sitting.yaml is no valid")
    assert "Erika" not in "".join(said)


def test_a_sitting_with_a_damaged_sheet_is_not_released(clinic):
    sitting = SittingId("K07", 1)
    (clinic.original(sitting, 1) / "sitting.yaml").write_text("Erika Mustermann: x\n")
    entry = Ledger(clinic).read(sitting)
    done = entry.model_copy(update={"finished": Finished(revision=1, outputs=())})
    Ledger(clinic).write(done)
    with pytest.raises(AftersitError, match="K07/01 can't be released: originals/K07/01/r1/") as e:
        release(clinic, sitting, "DR2")
    assert "Erika" not in str(e.value)
    assert Ledger(clinic).read(sitting) == done
