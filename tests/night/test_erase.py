"""Erasing a client: nothing of them stays, nothing of the others goes, at no crash."""

import base64
import datetime as dt
import json
import os
import shutil
from dataclasses import replace

import pytest
from crash import dies_at
from uploads import make_clinic, make_upload

from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.audit import Kept
from aftersit.night.contents import contents
from aftersit.night.erase import erase
from aftersit.night.ledger import Ledger
from aftersit.night.plan import planned
from aftersit.night.register import Register
from aftersit.night.run import receiver
from aftersit.night.session import at_work
from aftersit.night.status import describe
from aftersit.pages import digest, review
from aftersit.pages.words import clinic_words

DAY = dt.date(2026, 4, 2)
GONE, STAYS = "K07", "K070"  # the one begins like the other


@pytest.fixture(autouse=True)
def _no_waiting_for_disks(monkeypatch):
    monkeypatch.setattr(os, "fsync", lambda descriptor: None)


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """Two clients, each with a sitting and all that is made of one; uploads of both set aside."""
    clinic = Clinic(make_clinic(tmp_path_factory.mktemp("erase") / "clinic"))
    make_upload(clinic.inbox / "tue-k07", 1, client=GONE)
    make_upload(clinic.inbox / "wed", 2, client=STAYS)
    make_upload(clinic.inbox / "bad-sheet", 3, client=GONE, practise="x")
    make_upload(clinic.inbox / "thu", 4, client=STAYS, practise="x")
    receive(clinic)
    make_upload(clinic.inbox / "wrong-client", 1, client=STAYS)  # the recording is the other's
    receive(clinic)
    make_upload(clinic.inbox / "still-here", 5, client=GONE)
    for entry in Ledger(clinic).entries():
        make_results(clinic, planned(entry))
    make_tables(clinic)
    make_digest(clinic)
    return clinic.root


def receive(clinic):
    made = receiver(clinic)
    with at_work(clinic):
        replace(made, night=made.night.model_copy(update={"settle_s": 0})).receive()


def make_results(clinic, one):
    """A file in every place that the workflow writes to, and Snakemake's own notes of them."""
    for path in [p for files in one.stages.values() for p in files]:
        full = clinic.root / path
        full.parent.mkdir(parents=True, exist_ok=True)
        full.write_text(f"of {one.sitting}")
        note = clinic.root / ".snakemake" / "metadata" / base64.b64encode(path.encode()).decode()
        note.parent.mkdir(parents=True, exist_ok=True)
        note.write_text("{}")
    for place in (one.logs, f".aftersit/facts/{one.client}-{one.sitting.label}"):
        (clinic.root / place).mkdir(parents=True)
        (clinic.root / place / "a.log").write_text(str(one.sitting))
    made_from = [clinic.root / one.records[0], clinic.root / one.sheet]
    review.release(clinic, one.sitting, "DR2", made_from, DAY)


def make_tables(clinic):
    rows = {
        "bids/participants.tsv": "participant_id\tage\nsub-K07\t41\nsub-K070\t52\n",
        "roster.csv": "client,consent,since\nK07,yes,2026-01-03\nK070,no,2026-02-03\n",
        "partners/north.csv": "client,research id\nK07,N31\nK070,N87\n",
        "exports/for-north/participants.tsv": "participant_id\nsub-N31\n",
        "exports/for-south/participants.tsv": "participant_id\nsub-N87\n",
        ".snakemake/log/one.log": "rule write_bids: client=K07",
        ".aftersit/logs/workflow.log": "rule write_bids: client=K07",
    }
    for name, text in rows.items():
        (clinic.root / name).parent.mkdir(parents=True, exist_ok=True)
        (clinic.root / name).write_text(text)


def make_digest(clinic):
    reason = digest.Reason(
        code="recording-of-another-client",
        place="client",
        found="the same recording was received before as K07/01",
        todo="check",
    )
    told = digest.Night(
        date=DAY,
        clinic="Invented",
        done=[
            digest.Done(sitting=f"{c}/01", upload=u, protocols=["soft-alpha v1"], status="scored")
            for c, u in ((GONE, "tue-k07"), (STAYS, "wed"))
        ],
        set_aside=[
            digest.SetAside(upload=u, folder=f"set-aside/{u}", reasons=[reason])
            for u in ("bad-sheet", "thu", "wrong-client")
        ],
        to_review=[f"{GONE}/01", f"{STAYS}/01"],
        waiting=["still-here"],
        provenance=digest.Provenance(
            started=dt.datetime(2026, 4, 2, 2, tzinfo=dt.UTC),
            ended=dt.datetime(2026, 4, 2, 3, tzinfo=dt.UTC),
            disk_free_bytes=3,
            disk_used_bytes=5,
        ),
    )
    folder = digest.digest_folder(clinic, DAY)
    digest.write_digest(told, clinic, folder, clinic_words(clinic, "en"))


@pytest.fixture
def clinic(template, tmp_path):
    shutil.copytree(template, tmp_path / "clinic", symlinks=True)
    return Clinic(tmp_path / "clinic")


def everything(root) -> str:
    """All names and all bytes under a clinic but its exports, as one text."""
    parts = []
    for path in sorted(root.rglob("*")):
        if "exports" not in path.parts:
            name = path.name
            if "metadata" in path.parts and path.is_file():
                name = base64.b64decode(name).decode()
            parts += [name, path.read_bytes().decode("latin-1") if path.is_file() else ""]
    return "\n".join(parts)


def test_nothing_stays(clinic):
    said = erase(clinic, GONE, DAY)
    text = everything(clinic.root).replace(STAYS, "")
    for trace in (GONE, "tue-k07", "bad-sheet", "still-here", "N31"):
        assert trace not in text, text[max(0, text.index(trace) - 200) :][:400]
    assert said[0] == "erased 1 sitting and 3 uploads of this client"


def test_earlier_exports_stay_and_are_listed(clinic):
    before = contents(clinic.root / "exports")
    said = erase(clinic, GONE, DAY)
    assert contents(clinic.root / "exports") == before
    assert "  exports/for-north" in said
    assert "  exports/for-south" not in said


def test_a_dated_note_without_identity_stays_and_the_audit_tells_it(clinic):
    erase(clinic, GONE, DAY)
    (note,) = (clinic.state / "erased").iterdir()
    told = {"date": "2026-04-02", "sittings": 1, "uploads": 4}
    assert json.loads(note.read_text()) == told
    kept = Kept(clinic, Register(clinic).holdings(), Ledger(clinic))
    assert "a client was erased on 2026-04-02 (1 sitting)" in list(kept.notes())
    assert [*kept.lost(), *kept.unknown()] == []
    assert "clients erased on request: 1" in kept.summary()


def test_the_others_keep_every_byte(clinic):
    def of_the_other(found):
        return {n: c for n, c in found.items() if STAYS in n or "set-aside/thu/" in n}

    before = of_the_other(contents(clinic.root))
    erase(clinic, GONE, DAY)
    assert of_the_other(contents(clinic.root)) == before
    assert len(before) > 15
    assert (clinic.bids / "participants.tsv").read_text() == "participant_id\tage\nsub-K070\t52\n"
    assert (clinic.root / "roster.csv").read_text().endswith("\nK070,no,2026-02-03\n")
    told = json.loads((clinic.reports / "nightly" / "2026-04-02" / "digest.json").read_text())
    assert [d["sitting"] for d in told["done"]] == ["K070/01"]
    assert [s["upload"] for s in told["set_aside"]] == ["thu"]
    assert told["set_aside"][0]["reasons"][0]["found"].endswith("received before as (erased)")


def test_a_recording_that_came_under_another_code_goes_too(clinic):
    assert (clinic.set_aside / "wrong-client").is_dir()
    erase(clinic, GONE, DAY)
    assert not (clinic.set_aside / "wrong-client").exists()


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-8-sig"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_an_upload_whose_sheet_is_in_another_encoding_goes_too(clinic, encoding, line_end):
    """As Windows' editors save text (with and without a byte order mark)."""
    sheet = clinic.set_aside / "bad-sheet" / "sitting.yaml"
    lines = sorted(sheet.read_text().splitlines(), key=lambda line: "client" not in line)
    sheet.write_bytes(line_end.join(lines).encode(encoding))
    erase(clinic, GONE, DAY)
    assert not (clinic.set_aside / "bad-sheet").exists()
    assert (clinic.set_aside / "thu").is_dir()


def test_uploads_that_do_not_say_whose_they_are_are_listed(clinic):
    (clinic.set_aside / "thu" / "sitting.yaml").unlink()
    for name in ("loose.edf", ".DS_Store"):
        (clinic.inbox / name).write_bytes(b"0")
    said = erase(clinic, GONE, DAY)
    begin = said.index("these uploads don't say whose they are; look at them yourself:")
    assert said[begin + 1 : begin + 3] == ["  inbox/loose.edf", "  set-aside/thu"]


def test_nothing_is_listed_when_every_upload_says_whose_it_is(clinic):
    assert "whose they are" not in " ".join(erase(clinic, GONE, DAY))


def test_an_upload_that_may_not_be_removed_stops_the_erasure_before_it_begins(clinic, monkeypatch):
    monkeypatch.setattr("aftersit.night.erase.may_take", lambda path: path.name != "still-here")
    before = contents(clinic.root)
    with pytest.raises(AftersitError, match="nothing erased: inbox/still-here"):
        erase(clinic, GONE, DAY)
    assert contents(clinic.root) == before


@pytest.mark.parametrize(
    ("client", "text"),
    [
        ("K99", "there is nothing of client K99"),
        ("../K07", "is no client's code"),
        ("K.*", "no client"),
    ],
)
def test_only_a_client_that_is_here_can_be_erased(clinic, client, text):
    before = contents(clinic.root)
    with pytest.raises(AftersitError, match=text):
        erase(clinic, client, DAY)
    assert contents(clinic.root) == before


def test_what_people_wrote_by_hand_is_listed(clinic):
    (clinic.root / "notes.txt").write_text("call k07 on Monday")
    assert "  notes.txt" in erase(clinic, GONE, DAY)


def erasing_is_whole(clinic):
    assert not (clinic.state / "erasing.json").exists()
    assert not (clinic.root / "originals" / GONE).exists()
    with at_work(clinic):
        pass


@pytest.mark.parametrize("between", [",", ";", "\t"])
def test_a_roster_as_any_spreadsheet_saves_it_loses_only_the_clients_row(clinic, between):
    """Latin-1 with an umlaut, and columns parted as German spreadsheets do (from memory)."""
    rows = ["client,consent,since,name", "K07,yes,2026-01-03,Jörg", "K070,no,2026-02-03,Zoë"]
    said = [row.replace(",", between).encode("latin-1") + b"\r\n" for row in rows]
    path = clinic.root / "roster.csv"
    path.write_bytes(b"".join(said))
    erase(clinic, GONE, DAY)
    assert path.read_bytes() == said[0] + said[2]
    erasing_is_whole(clinic)


def test_a_partners_table_in_another_encoding_is_no_hindrance(clinic):
    path = clinic.root / "partners" / "north.csv"
    path.write_bytes("client,research id,remark\nK07,N31,größer\nK070,N87,\n".encode("latin-1"))
    assert "  exports/for-north" in erase(clinic, GONE, DAY)
    assert path.read_bytes() == b"client,research id,remark\nK070,N87,\n"
    erasing_is_whole(clinic)


def test_what_desktops_leave_in_folders_is_no_hindrance(clinic):
    places = ("reports/versions-compared", "reports/nightly", "derivatives", "set-aside", "reports")
    strays = [clinic.root / place / ".DS_Store" for place in places]
    for stray in strays:
        stray.parent.mkdir(exist_ok=True)
        stray.write_bytes(b"7")
    erase(clinic, GONE, DAY)
    erasing_is_whole(clinic)
    assert all(stray.read_bytes() == b"7" for stray in strays)


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("roster.csv", "client\nK07\n".encode("utf-16"), "roster.csv is not UTF-8 text"),
        ("reports/nightly/2026-04-02/digest.json", b'{"K07', "2026-04-02/digest.json is damaged"),
    ],
)
def test_what_cant_be_read_stops_the_erasure_before_it_begins(clinic, name, data, told):
    (clinic.root / name).write_bytes(data)
    before = contents(clinic.root)
    with pytest.raises(AftersitError, match=f"nothing erased: .*{told}"):
        erase(clinic, GONE, DAY)
    assert contents(clinic.root) == before


def test_an_erasure_that_is_not_finished_is_told_by_the_status_and_in_words(clinic, monkeypatch):
    def refused(path):
        raise PermissionError(13, "no", str(path))

    monkeypatch.setattr("aftersit.night.erasing._remove", refused)
    with pytest.raises(AftersitError, match=r"erasing K07 .* not finished: this user may not"):
        erase(clinic, GONE, DAY)
    (line,) = (line for line in describe(clinic) if "ERASURE" in line)
    assert line == (
        "AN ERASURE IS NOT FINISHED: client K07, begun on 2026-04-02; `nightly` goes on with it"
    )
    monkeypatch.undo()
    with at_work(clinic):
        pass
    assert not any("ERASURE" in line for line in describe(clinic))


@pytest.mark.slow
def test_a_crash_at_any_change_is_made_good_by_the_next_command(template, tmp_path):
    shutil.copytree(template, tmp_path / "calm", symlinks=True)
    erase(Clinic(tmp_path / "calm"), GONE, DAY)
    undisturbed = contents(tmp_path / "calm")
    for number in range(2, 600):
        root = tmp_path / f"c{number}"
        shutil.copytree(template, root, symlinks=True)
        died = dies_at(number, lambda root=root: erase(Clinic(root), GONE, DAY))
        begun = (root / ".aftersit" / "erasing.json").exists()
        with at_work(Clinic(root)):
            pass
        if not died or begun:
            assert contents(root) == undisturbed, f"crash before change {number}"
        shutil.rmtree(root)
        if not died:
            break
    assert number > 50


def test_sittings_after_an_erasure_count_on(clinic):
    erase(clinic, GONE, DAY)
    make_upload(clinic.inbox / "new", 11, client=STAYS)
    receive(clinic)
    assert [e.sitting for e in Ledger(clinic).entries()] == [
        SittingId(STAYS, 1),
        SittingId(STAYS, 2),
    ]


def test_a_recording_under_the_wrong_client_can_be_put_right(clinic, tmp_path):
    """As the README says: save the uploads, erase the wrong client, send them again."""
    (came,) = [p for p in clinic.set_aside.iterdir() if p.name == "wrong-client"]
    why = (came / "why.txt").read_text().replace("\n", " ")
    assert "received before as K07/01" in why
    assert "'Under the wrong client' in the README" in why
    shutil.copytree(came, tmp_path / "saved")
    erase(clinic, GONE, DAY)
    shutil.copytree(tmp_path / "saved", clinic.inbox / "again")
    receive(clinic)
    assert {str(entry.sitting) for entry in Ledger(clinic).entries()} == {"K070/01", "K070/02"}
