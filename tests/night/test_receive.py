import json
import shutil
from dataclasses import replace

import pytest
import yaml
from uploads import SHEET, make_clinic, make_upload

from aftersit.clinic import Clinic, SittingId
from aftersit.night.retry import send_again
from aftersit.night.run import receiver


@pytest.fixture
def clinic(tmp_path):
    return Clinic(make_clinic(tmp_path / "clinic"))


def receive(clinic):
    quick = receiver(clinic)
    night = quick.night.model_copy(update={"settle_s": 0.01})
    return replace(quick, night=night).receive()


def files(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_sittings_are_numbered_by_date_not_by_name_or_arrival(clinic):
    make_upload(clinic.inbox / "a", 1, date="2026-03-21")
    make_upload(clinic.inbox / "b", 2, date="2026-03-14")
    came = files(clinic.inbox)
    assert receive(clinic).received == [("b", SittingId("K07", 1)), ("a", SittingId("K07", 2))]
    assert list(clinic.inbox.iterdir()) == []
    assert files(clinic.original(SittingId("K07", 1), 1))["sitting.edf"] == came["b/sitting.edf"]
    assert files(clinic.original(SittingId("K07", 2), 1))["sitting.yaml"] == came["a/sitting.yaml"]


def test_the_same_bytes_twice_are_one_sitting(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    make_upload(clinic.inbox / "again", 1)
    arrivals = receive(clinic)
    assert arrivals.had_already == [("again", SittingId("K07", 1))]
    assert arrivals.received == []
    assert list(clinic.inbox.iterdir()) == []


def test_a_corrected_sheet_is_a_new_revision_and_keeps_the_old(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    make_upload(clinic.inbox / "a", 1, eyes="open")
    assert receive(clinic).received == [("a", SittingId("K07", 1))]
    sheets = [
        yaml.safe_load((clinic.original(SittingId("K07", 1), r) / "sitting.yaml").read_text())
        for r in (1, 2)
    ]
    assert [s["eyes"] for s in sheets] == ["closed", "open"]


def test_going_back_to_an_earlier_sheet_is_a_revision_too(clinic):
    for eyes in ("closed", "open", "closed"):
        make_upload(clinic.inbox / "a", 1, eyes=eyes)
        assert receive(clinic).received == [("a", SittingId("K07", 1))]
    last = clinic.original(SittingId("K07", 1), 3) / "sitting.yaml"
    assert yaml.safe_load(last.read_text())["eyes"] == "closed"


def test_an_upload_that_changes_after_its_check_waits(clinic, monkeypatch):
    make_upload(clinic.inbox / "a", 1)
    monkeypatch.setattr("aftersit.night.receive._unchanged", lambda *_: False)
    assert receive(clinic).waiting == ["a"]
    assert sorted(files(clinic.inbox / "a")) == ["sitting.edf", "sitting.yaml"]


def test_a_fault_of_our_own_leaves_a_trace_without_words_of_the_sheet(clinic, monkeypatch):
    words = "a name that must not be logged"

    def broken(*_):
        raise RuntimeError(words)

    make_upload(clinic.inbox / "a", 1)
    monkeypatch.setattr("aftersit.night.receive.check_upload", broken)
    ((_, (problem,)),) = receive(clinic).set_aside
    (log,) = (clinic.state / "logs").glob("check-*.log")
    assert problem.code == "check-broken"
    assert log.name in problem.todo
    assert "RuntimeError" in log.read_text()
    assert words not in log.read_text()


@pytest.mark.parametrize(
    ("second", "code"),
    [
        ({"name": "a", "seed": 2}, "upload-name-used"),
        ({"name": "b", "seed": 1, "client": "K08"}, "recording-of-another-client"),
        ({"name": "b", "seed": 2, "client": "k07"}, "client-code-case"),
        ({"name": "b", "seed": 2, "practise": "x"}, "sheet"),
    ],
)
def test_what_can_not_be_a_sitting_is_set_aside_whole(clinic, second, code):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    upload = make_upload(clinic.inbox / second.pop("name"), **second)
    came = files(upload)
    ((name, problems),) = receive(clinic).set_aside
    assert [p.code for p in problems] == [code]
    kept = files(clinic.set_aside / name)
    why = json.loads(kept.pop("why.json"))
    assert [r["code"] for r in why["reasons"]] == [code]
    assert problems[0].todo in kept.pop("why.txt").decode().replace("\n", " ")
    assert kept == came


def test_a_corrected_set_aside_upload_is_taken_after_retry(clinic):
    make_upload(clinic.inbox / "a", 1, practise="x")
    receive(clinic)
    (clinic.set_aside / "a" / "sitting.yaml").write_text(yaml.safe_dump(SHEET))
    assert "back in the inbox" in send_again(clinic, "a")
    assert receive(clinic).received == [("a", SittingId("K07", 1))]
    assert sorted(files(clinic.original(SittingId("K07", 1), 1))) == ["sitting.edf", "sitting.yaml"]


def test_a_crash_between_ledger_and_move_loses_nothing(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    shutil.move(clinic.original(SittingId("K07", 1), 1), clinic.inbox / "a")
    assert receive(clinic).received == [("a", SittingId("K07", 1))]
    assert list(clinic.inbox.iterdir()) == []


def test_a_loose_file_gets_a_folder_of_its_own(clinic):
    (clinic.inbox / "stray.edf").write_bytes(b"0")
    assert receive(clinic).set_aside[0][0] == "stray.edf"
    assert (clinic.set_aside / "stray.edf" / "stray.edf").read_bytes() == b"0"
