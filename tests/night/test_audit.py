import shutil

import pytest
from quick_nights import receive
from uploads import make_clinic, make_upload

from aftersit.clinic import Clinic, SittingId
from aftersit.night.audit import Kept
from aftersit.night.ledger import Ledger
from aftersit.night.register import Register
from aftersit.night.retry import send_again
from aftersit.night.session import at_work


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """A sitting, and an upload that was set aside, of two files each."""
    clinic = Clinic(make_clinic(tmp_path_factory.mktemp("audit") / "clinic"))
    make_upload(clinic.inbox / "mon", 1)
    make_upload(clinic.inbox / "tue", 2, practise="x")
    receive(clinic)
    return clinic


@pytest.fixture
def clinic(template, tmp_path):
    shutil.copytree(template.root, tmp_path / "clinic")
    return Clinic(tmp_path / "clinic")


def lost(clinic):
    """Files are numbered by the codes of their names."""
    return list(Kept(clinic, Register(clinic).holdings(), Ledger(clinic)).lost())


def notes(clinic):
    return list(Kept(clinic, Register(clinic).holdings(), Ledger(clinic)).notes())


def test_all_is_there(clinic):
    assert lost(clinic) == []
    assert notes(clinic) == []


@pytest.mark.parametrize(("file", "number"), [("sitting.edf", 2), ("sitting.yaml", 1)])
def test_a_deleted_file_of_a_set_aside_upload_is_lost(clinic, file, number):
    (clinic.set_aside / "tue" / file).unlink()
    meant = "; if that was meant, send the upload again with `retry`"
    assert lost(clinic) == [f"set-aside/tue: file {number} of 2 is gone{meant}"]


def test_a_changed_recording_of_a_set_aside_upload_is_lost(clinic):
    path = clinic.set_aside / "tue" / "sitting.edf"
    path.write_bytes(path.read_bytes()[:-7])
    (line,) = lost(clinic)
    assert line.startswith("set-aside/tue: file 2 of 2 is changed")


def test_a_corrected_sheet_is_a_note(clinic):
    sheet = clinic.set_aside / "tue" / "sitting.yaml"
    sheet.write_text(sheet.read_text().replace("practise: x\n", ""))
    assert lost(clinic) == []
    (line,) = notes(clinic)
    assert line.startswith("set-aside/tue was changed since it was set aside")


def test_a_whole_set_aside_upload_that_is_gone_is_lost(clinic):
    shutil.rmtree(clinic.set_aside / "tue")
    assert lost(clinic) == ["set-aside/tue is gone; it was neither sent again nor erased"]


def test_what_lies_in_the_inbox_again_is_not_lost(clinic):
    """Moved there by hand, with a corrected sheet."""
    upload = shutil.move(clinic.set_aside / "tue", clinic.inbox / "tue")
    sheet = upload / "sitting.yaml"
    sheet.write_text(sheet.read_text().replace("practise: x\n", ""))
    assert lost(clinic) == []


@pytest.mark.parametrize(("file", "number"), [("sitting.edf", 2), ("sitting.yaml", 1)])
def test_only_a_sitting_whose_bytes_are_all_there_is_computed_again(clinic, file, number):
    (entry,) = Ledger(clinic).entries()
    assert Kept(clinic, Register(clinic).holdings(), Ledger(clinic)).whole(entry)
    (clinic.original(SittingId("K07", 1), 1) / file).unlink()
    assert not Kept(clinic, Register(clinic).holdings(), Ledger(clinic)).whole(entry)
    assert lost(clinic) == [f"originals/K07/01/r1: file {number} of 2 is gone"]


@pytest.mark.parametrize("corrected", [False, True])
def test_a_set_aside_upload_may_get_another_name(clinic, corrected):
    """As `why.txt` asks for when a name was used before; then it is sent again."""
    clinic.set_aside.joinpath("tue").rename(clinic.set_aside / "wed")
    sheet = clinic.set_aside / "wed" / "sitting.yaml"
    if corrected:
        sheet.write_text(sheet.read_text().replace("practise: x\n", ""))
    with at_work(clinic):
        pass
    places = [place for place in Register(clinic).holdings() if place.startswith("set-aside/")]
    assert places == ["set-aside/wed"]
    sheet.write_text(sheet.read_text().replace("practise: x\n", ""))
    send_again(clinic, "wed")
    assert list(receive(clinic).received) == ["wed"]
    assert lost(clinic) == []


def test_another_upload_that_is_set_aside_does_not_hide_one_that_is_gone(clinic):
    shutil.rmtree(clinic.set_aside / "tue")
    make_upload(clinic.set_aside / "wed", 5, practise="x")
    with at_work(clinic):
        pass
    assert lost(clinic) == ["set-aside/tue is gone; it was neither sent again nor erased"]
