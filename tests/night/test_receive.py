import json
import os
import shutil

import pytest
import yaml
from quick_nights import receive
from uploads import SHEET, make_clinic, make_upload

from aftersit.clinic import Clinic, SittingId
from aftersit.night.ledger import Ledger
from aftersit.night.retry import send_again
from aftersit.night.run import receiver


@pytest.fixture
def clinic(tmp_path):
    return Clinic(make_clinic(tmp_path / "clinic"))


def files(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_sittings_are_numbered_by_date_not_by_name_or_arrival(clinic):
    make_upload(clinic.inbox / "a", 1, date="2026-03-21")
    make_upload(clinic.inbox / "b", 2, date="2026-03-14")
    came = files(clinic.inbox)
    assert receive(clinic).received == {"b": SittingId("K07", 1), "a": SittingId("K07", 2)}
    assert list(clinic.inbox.iterdir()) == []
    assert files(clinic.original(SittingId("K07", 1), 1))["sitting.edf"] == came["b/sitting.edf"]
    assert files(clinic.original(SittingId("K07", 2), 1))["sitting.yaml"] == came["a/sitting.yaml"]


def test_the_same_bytes_twice_are_one_sitting(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    make_upload(clinic.inbox / "again", 1)
    arrivals = receive(clinic)
    assert arrivals.had_already == {"again": SittingId("K07", 1)}
    assert arrivals.received == {}
    assert list(clinic.inbox.iterdir()) == []


def test_a_corrected_sheet_is_a_new_revision_and_keeps_the_old(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    make_upload(clinic.inbox / "a", 1, eyes="open")
    assert receive(clinic).received == {"a": SittingId("K07", 1)}
    sheets = [
        yaml.safe_load((clinic.original(SittingId("K07", 1), r) / "sitting.yaml").read_text())
        for r in (1, 2)
    ]
    assert [s["eyes"] for s in sheets] == ["closed", "open"]


def test_going_back_to_an_earlier_sheet_is_a_revision_too(clinic):
    for eyes in ("closed", "open", "closed"):
        make_upload(clinic.inbox / "a", 1, eyes=eyes)
        assert receive(clinic).received == {"a": SittingId("K07", 1)}
    last = clinic.original(SittingId("K07", 1), 3) / "sitting.yaml"
    assert yaml.safe_load(last.read_text())["eyes"] == "closed"


@pytest.mark.parametrize("corrected", ["open", "closed"])
def test_a_duplicate_beside_a_corrected_sheet_is_no_step_back(clinic, corrected):
    """Whichever of the two has the smaller checksum."""
    first = {"open": "closed", "closed": "open"}[corrected]
    make_upload(clinic.inbox / "a", 1, eyes=first)
    receive(clinic)
    make_upload(clinic.inbox / "again", 1, eyes=first)
    make_upload(clinic.inbox / "new", 1, eyes=corrected)
    arrivals = receive(clinic)
    assert (list(arrivals.had_already), list(arrivals.received)) == (["again"], ["new"])


def test_a_duplicate_is_kept_when_the_kept_bytes_have_changed(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    kept = clinic.original(SittingId("K07", 1), 1) / "sitting.edf"
    damaged = bytearray(kept.read_bytes())
    damaged[7001] ^= 4
    kept.write_bytes(damaged)
    came = files(make_upload(clinic.inbox / "again", 1))
    ((name, (problem,)),) = receive(clinic).set_aside.items()
    assert (name, problem.code) == ("again", "original-damaged")
    assert files(clinic.set_aside / "again").items() >= came.items()


def test_what_was_lost_comes_back_with_its_upload(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    kept = clinic.original(SittingId("K07", 1), 1)
    shutil.rmtree(kept)
    came = files(make_upload(clinic.inbox / "again", 1))
    assert receive(clinic).received == {"again": SittingId("K07", 1)}
    assert files(kept) == came


def test_a_lost_ledger_entry_never_leads_to_an_overwrite(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    kept = files(clinic.root / "originals")
    Ledger(clinic).path(SittingId("K07", 1)).unlink()
    make_upload(clinic.inbox / "b", 2)
    ((problem,),) = receive(clinic).set_aside.values()
    assert problem.code == "place-taken"
    assert files(clinic.root / "originals") == kept


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
    ((problem,),) = receive(clinic).set_aside.values()
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
    ((name, problems),) = receive(clinic).set_aside.items()
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
    assert receive(clinic).received == {"a": SittingId("K07", 1)}
    assert sorted(files(clinic.original(SittingId("K07", 1), 1))) == ["sitting.edf", "sitting.yaml"]


def test_check_looks_past_our_own_reasons_and_at_nobody_elses(clinic):
    make_upload(clinic.inbox / "a", 1, practise="x")
    receive(clinic)
    kept = clinic.set_aside / "a"
    (kept / "sitting.yaml").write_text(yaml.safe_dump(SHEET))
    assert receiver(clinic).check(kept).problems == ()
    assert (kept / "why.txt").is_file()
    (kept / "why.txt").write_text("because")
    assert [p.code for p in receiver(clinic).check(kept).problems] == ["foreign-files"]


@pytest.mark.parametrize(
    "name", ["set-aside/a", "set-aside/a/", "./set-aside/a", "{root}/set-aside/a"]
)
def test_retry_takes_a_path_too(clinic, name):
    make_upload(clinic.set_aside / "a", 1)
    said = send_again(clinic, name.format(root=clinic.root))
    assert said.startswith("a is back in the inbox")
    assert (clinic.inbox / "a").is_dir()


def test_a_loose_file_gets_a_folder_of_its_own(clinic):
    (clinic.inbox / "stray.edf").write_bytes(b"0")
    assert list(receive(clinic).set_aside) == ["stray.edf"]
    assert (clinic.set_aside / "stray.edf" / "stray.edf").read_bytes() == b"0"


def test_any_bytes_may_be_a_name(clinic):
    """Linux names hold up to 255 bytes, of any kind but `/` and NUL."""
    latin = os.fsdecode(b"Gr\xfcn\nB")
    long = os.fsdecode(b"\xc3\xa4" * 127 + b"x")
    make_upload(clinic.inbox / latin, 1)
    make_upload(clinic.inbox / long, 2, practise="x")
    (clinic.set_aside / long).mkdir(parents=True)
    arrivals = receive(clinic)
    assert list(arrivals.received) == ["Gr\\xfcn\\x0aB"]
    (kept,) = [p for p in clinic.set_aside.iterdir() if p.name != long]
    assert os.fsencode(kept.name) == os.fsencode(long)[:253] + b".2"
    assert "sitting.edf" in files(kept)
    assert "scripts/aftersit retry" in (kept / "why.txt").read_text()


def test_a_name_of_odd_bytes_is_sent_again_as_why_txt_writes_it(clinic):
    make_upload(clinic.inbox / os.fsdecode(b"Gr\xfcn"), 1, practise="x")
    receive(clinic)
    assert "retry 'Gr\\xfcn'" in (next(clinic.set_aside.iterdir()) / "why.txt").read_text()
    send_again(clinic, "Gr\\xfcn")
    assert [os.fsencode(p.name) for p in clinic.inbox.iterdir()] == [b"Gr\xfcn"]


def test_moving_back_by_hand_is_as_good_as_retry(clinic):
    make_upload(clinic.inbox / "a", 1, practise="x")
    receive(clinic)
    (clinic.set_aside / "a" / "sitting.yaml").write_text(yaml.safe_dump(SHEET))
    shutil.move(clinic.set_aside / "a", clinic.inbox / "a")
    assert receive(clinic).received == {"a": SittingId("K07", 1)}
    assert sorted(files(clinic.original(SittingId("K07", 1), 1))) == ["sitting.edf", "sitting.yaml"]


def test_an_upload_that_brings_a_why_txt_of_its_own_keeps_it(clinic):
    upload = make_upload(clinic.inbox / "a", 1)
    (upload / "why.txt").write_text("because")
    receive(clinic)
    assert (clinic.set_aside / "a" / "a" / "why.txt").read_text() == "because"
    assert "foreign-files" in (clinic.set_aside / "a" / "why.json").read_text()


def test_what_came_is_private_and_links_are_not_followed(clinic, tmp_path):
    outside = tmp_path / "outside.txt"
    outside.write_text("x")
    outside.chmod(0o644)
    upload = make_upload(clinic.inbox / "good", 1)
    upload.chmod(0o755)
    (upload / "sitting.edf").chmod(0o644)
    make_upload(clinic.inbox / "bad", 2)
    (clinic.inbox / "bad" / "link").symlink_to(outside)
    receive(clinic)
    kept = clinic.original(SittingId("K07", 1), 1)
    assert [p.stat().st_mode & 0o777 for p in (kept, kept / "sitting.edf")] == [0o700, 0o600]
    assert clinic.set_aside.stat().st_mode & 0o077 == 0
    assert outside.stat().st_mode & 0o777 == 0o644


def test_a_protocol_is_fixed_from_its_first_use(clinic):
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    kept = clinic.kept_protocols / "soft-alpha" / "v1.yaml"
    own = clinic.protocols / "soft-alpha" / "v1.yaml"
    assert kept.read_bytes() == own.read_bytes()
    make_upload(clinic.inbox / "b", 2)
    own.write_text("# a remark changes nothing\n" + own.read_text())
    assert list(receive(clinic).received) == ["b"]
    own.write_text(own.read_text().replace("absolute: 1.0", "absolute: 1.5"))
    make_upload(clinic.inbox / "c", 3)
    ((problem,),) = receive(clinic).set_aside.values()
    assert problem.code == "protocol-changed"
    assert problem.place == "protocols/soft-alpha/v1.yaml"
