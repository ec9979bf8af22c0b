"""Planted secrets: all gone from a bag; where scrubbing is switched off, the scan finds them."""

import dataclasses
import json
import re
import shutil
import zipfile

import done_clinic
import numpy as np
import planted
import pytest
import yaml
from done_clinic import DAY, WOMAN, One
from wrappings import WRAPPINGS, gz, png

from aftersit.archive.collect import secrets_of
from aftersit.archive.export import Wanted, export
from aftersit.archive.ids import give_pseudonyms
from aftersit.archive.partner import read_partner
from aftersit.archive.scan import scan
from aftersit.archive.scrub import PLACES, Scrub
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError

FIRST = Wanted("first", "north")


ROSTER = ("name", "phone", "birth date", "insurance number")


def quiet(line):
    pass


@pytest.fixture(scope="module")
def clinic(tmp_path_factory, results):
    """Every format with a secret in each of its fields, sheets, roster, set-aside upload."""
    root = tmp_path_factory.mktemp("planted") / "clinic"
    uploads = [
        One("K07", "2026-03-14", WOMAN | planted.sheet(), planted.write_edf, "tue-quasti-k07"),
        One("QX9417", "2026-03-15", WOMAN, planted.write_bdf),
        One("T05", "2026-03-16", WOMAN, planted.write_brainvision),
        One(planted.CLINIC["code of seven digits"], "2026-03-17", WOMAN, planted.write_fif),
    ]
    codes = [one.client for one in uploads]
    clinic = done_clinic.make_clinic(root, uploads, dict.fromkeys(codes, "yes 2026-01-02"))
    more = [planted.CLINIC[f"roster {key}"] for key in ROSTER]
    rows = [",".join([code, "yes", "2026-01-02", *more]) for code in codes]
    head = ",".join(["client", "research_consent", "date", *ROSTER])
    (root / "roster.csv").write_text("\n".join([head, *rows]))
    planted.plant_folders(clinic)
    for path in clinic.kept_protocols.glob("warm-attention/*.yaml"):
        path.chmod(0o600)
        told = yaml.safe_load(path.read_text()) | {"title": "Fridolins Lieblingsübung"}
        path.write_text(yaml.safe_dump(told, allow_unicode=True))
    done_clinic.finish(clinic, results)
    give_pseudonyms(clinic, "south", {"K07": DAY})
    return clinic


@pytest.fixture(scope="module")
def bag(clinic):
    return export(clinic, FIRST, DAY, quiet)


@pytest.fixture(scope="module")
def secrets(clinic, bag):
    partner = read_partner(clinic, "north")
    own = {p.name.removeprefix("sub-") for p in (bag / "data" / "bids").glob("sub-*")}
    return secrets_of(clinic, partner, own)


def test_more_than_fifty_places_are_planted():
    assert len(planted.SECRETS) >= 65
    assert len(set(planted.SECRETS.values())) == len(planted.SECRETS)


def readings(bag):
    """All bytes of a bag as this test reads them: archives opened, lower case."""
    for path in sorted(p for p in bag.rglob("*") if p.is_file()):
        yield str(path.relative_to(bag)).lower()
        yield path.read_bytes().decode("latin-1").lower()
        yield path.read_bytes().decode("utf-8", "replace").lower()
        if path.suffix == ".npz":
            with zipfile.ZipFile(path) as archive:
                for name in archive.namelist():
                    yield np.lib.format.read_array(archive.open(name)).tobytes().decode("latin-1")


@pytest.fixture(scope="module")
def read(bag):
    return "\n".join(readings(bag))


@pytest.mark.parametrize("place", [p for p, secret in planted.SECRETS.items() if secret])
def test_each_is_gone(read, place):
    secret = planted.SECRETS[place].lower()
    words = [w for w in re.findall(r"[^\W_]+", secret) if len(w) > 5 and w not in COMMON]
    for text in (secret, *words):
        assert not re.search(rf"(?<![a-z0-9]){re.escape(text)}(?![a-z0-9])", read), text


COMMON = {"patient", "serial", "smiling", "warmly", "called", "floor", "autumn", "towards"}


@pytest.mark.parametrize("place", planted.SECRETS)
def test_what_travels_when_a_place_is_not_scrubbed_is_found(clinic, bag, secrets, tmp_path, place):
    """The field's own text beside the recording's other facts, as it would travel."""
    secret = planted.SECRETS[place]
    if place == "other partner's id":
        secret = give_pseudonyms(clinic, "south", {"K07": DAY})["K07"].research_id
    (tmp_path / "sub-X_eeg.json").write_text(json.dumps({"RecordingDuration": 64.5, "X": secret}))
    assert scan(tmp_path, secrets), place


@pytest.mark.parametrize("wrapping", WRAPPINGS)
@pytest.mark.parametrize(
    "secret", ["Ödön Hüttenrauch", "Ludmilla Quastenberg", "Her brother Fridolin drowned"]
)
def test_a_secret_is_found_in_every_wrapping(secrets, tmp_path, wrapping, secret):
    (tmp_path / "file.bin").write_bytes(WRAPPINGS[wrapping](secret.encode()))
    assert scan(tmp_path, secrets)


@pytest.mark.parametrize(
    "text",
    ["14.03.2026", "14/3/26", "3/14/2026", "20260314", "14-MAR-2026", "March 14, 2026", "2.5.1951"],
)
def test_a_date_is_found_in_every_spelling(secrets, tmp_path, text):
    (tmp_path / "file.txt").write_text(f"begun on {text} or so\n")
    assert scan(tmp_path, secrets)


def test_a_bags_own_day_is_passed_over_only_where_it_stands(secrets, tmp_path):
    """A day on which somebody sat may be the bag's own, but not in a table of scans."""
    known = dataclasses.replace(secrets, published="2026-03-16")
    (tmp_path / "bag-info.txt").write_text("Bagging-Date: 2026-03-16\n")
    assert scan(tmp_path, known) == []
    for name in ("sub-X_scans.tsv", "data/bag-info.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("filename\tacq_time\na\t2026-03-16T00:00:00\n")
        assert [f.where for f in scan(tmp_path, known)] == [name]
        (tmp_path / name).unlink()


@pytest.mark.parametrize("text", ["Odon Huttenrauch", "HUETTENRAUCH", "hüttenrauch"])
def test_a_name_with_accents_is_found_however_it_is_spelt(secrets, tmp_path, text):
    (tmp_path / "file.txt").write_text(text)
    assert scan(tmp_path, secrets)


@pytest.mark.parametrize("text", ["xk07y", "sessionK07", "K07b.edf", "sub-k07_ses-01"])
def test_a_code_inside_a_longer_word_is_found(secrets, tmp_path, text):
    (tmp_path / "file.txt").write_text(text)
    assert scan(tmp_path, secrets)


@pytest.mark.parametrize("place", ["bdf recording more", "code of seven digits"])
def test_a_number_of_seven_digits_is_found_in_a_cell_of_its_own(secrets, tmp_path, place):
    cells = f"onset\tn_samples\n2.5\t{planted.SECRETS[place]}\n"
    (tmp_path / "events.tsv").write_text(cells)
    assert scan(tmp_path, secrets)
    (tmp_path / "events.tsv").write_text(cells.replace(planted.SECRETS[place], "4310552"))
    assert scan(tmp_path, secrets) == []


@pytest.mark.parametrize("text", ["Schürzenjäger", "SCHUERZENJAEGER", "Schurzenjager"])
@pytest.mark.parametrize("encoding", ["utf-8", "latin-1"])
def test_a_name_of_an_old_header_is_found_however_it_is_spelt(secrets, tmp_path, text, encoding):
    (tmp_path / "file.txt").write_bytes(f"with {text}\n".encode(encoding))
    assert scan(tmp_path, secrets)


def test_a_code_in_a_protocols_name_is_found_and_named_as_the_reason(secrets, tmp_path):
    names = frozenset({"alphak07", "k07", "softk07gaze"})
    known = dataclasses.replace(secrets, allowed=secrets.allowed | names)
    for name in ("alphak07", "calm-k07", "softk07gaze"):
        path = tmp_path / f"{name}-v3.json"
        path.write_text("{}")
        kinds = [finding.kind for finding in scan(tmp_path, known)]
        assert kinds, name
        assert all("in the name of a protocol, condition or union" in kind for kind in kinds), name
        path.unlink()


def test_names_of_files_are_looked_at(secrets, tmp_path):
    (tmp_path / "quastenberg.txt").write_text("nothing")
    assert [f.where for f in scan(tmp_path, secrets)] == ["quastenberg.txt"]


def test_what_cant_be_opened_is_a_finding(secrets, tmp_path):
    (tmp_path / "file.gz").write_bytes(gz(b"nothing")[:-9])
    (finding,) = scan(tmp_path, secrets)
    assert finding.kind == "a part that can't be looked into"


def test_a_clean_bag_raises_no_alarm(bag, secrets):
    assert scan(bag, secrets) == []


SECRET = planted.SECRETS["edf patient name"]


def into_json(path, key="Operator"):
    path.write_text(json.dumps(json.loads(path.read_text()) | {key: SECRET}))


def into_value(path):
    path.write_text(json.dumps(json.loads(path.read_text()) | {"EEGGround": SECRET}))


def into_column(path):
    head, *rest = path.read_text().splitlines()
    path.write_text("\n".join([f"{head}\twho", *(f"{r}\t{SECRET}" for r in rest)]) + "\n")


def into_cell(path):
    lines = [line.split("\t") for line in path.read_text().splitlines()]
    lines[1][lines[0].index("description")] = SECRET
    path.write_text("".join("\t".join(line) + "\n" for line in lines))


def into_arrays(path):
    with np.load(path) as found:
        arrays = dict(found)
    np.savez(path, who=np.array([SECRET]), **arrays)


def append(text):
    def add(path):
        with path.open("ab") as file:
            file.write(text.encode())

    return add


def rename_channel(path):
    path.write_text(path.read_text().replace("Ch19=O2,", "Ch19=Quastenberg,"))


def beside(path):
    path.with_name("picture.png").write_bytes(png(SECRET.encode()))


EEG = "bids/sub-K07/ses-01/eeg/sub-K07_ses-01_task-sitting"
HIDDEN = {
    "header-comments": (f"{EEG}_eeg.vhdr", append(f"\n[Comment]\n{SECRET}\n")),
    "header-keys": (
        f"{EEG}_eeg.vhdr",
        lambda p: p.write_text(
            p.read_text().replace("[Binary Infos]", f"Operator={SECRET}\n[Binary Infos]")
        ),
    ),
    "header-channels": (f"{EEG}_eeg.vhdr", rename_channel),
    "markers": (f"{EEG}_eeg.vmrk", append(f"Mk2=Comment,{SECRET},77,1,0\n")),
    "signal-tail": (f"{EEG}_eeg.eeg", append(SECRET)),
    "sidecar-keys": (f"{EEG}_eeg.json", into_json),
    "sidecar-values": (f"{EEG}_eeg.json", into_value),
    "table-columns": (f"{EEG}_events.tsv", into_column),
    "table-cells": (f"{EEG}_channels.tsv", into_cell),
    "other-files": (f"{EEG}_eeg.json", beside),
    "array-members": (
        "derivatives/regions-s1/sub-K07/ses-01/sub-K07_ses-01_task-sitting_regions.npz",
        into_arrays,
    ),
}
"""Place -> a file of the clinic's results, and how a secret gets into it."""
ALWAYS = {
    "file-names",
    "header-names",
    "scans-dates",
    "record-client",
    "protocol-texts",
}
"""Places that hold something private in every clinic."""


@pytest.fixture(scope="module")
def one_client(clinic, bag, tmp_path_factory):
    """The same clinic to plant into; exports of one client are quick."""
    root = tmp_path_factory.mktemp("hidden") / "clinic"
    shutil.copytree(clinic.root, root)
    done_clinic.write_partner(Clinic(root), "north", k=2)
    return Clinic(root)


def wanted():
    return Wanted("hidden", "north", ("client=K07",), small_groups_allowed_by="DR2")


def test_every_place_that_is_scrubbed_is_tried():
    # Records are read by a closed model, which refuses further keys before scrubbing.
    assert {*HIDDEN, *ALWAYS} == {*PLACES} - {"record-keys"}


@pytest.mark.slow
@pytest.mark.parametrize("place", sorted({*HIDDEN, *ALWAYS}))
def test_with_a_place_not_scrubbed_the_scan_refuses_and_removes(one_client, place):
    name, hide = HIDDEN.get(place, (None, None))
    before = None
    if name:
        path = one_client.root / name
        before = path.read_bytes()
        hide(path)
    try:
        with pytest.raises(AftersitError, match=r"must not leave.*the export was removed"):
            export(one_client, wanted(), DAY, quiet, Scrub(frozenset({place})))
        assert not (one_client.root / "exports" / "hidden").exists()
        made = export(one_client, wanted(), DAY, quiet)  # with scrubbing on all is well
        shutil.rmtree(made)
    finally:
        if name:
            path.write_bytes(before)
            path.with_name("picture.png").unlink(missing_ok=True)


HARD_CODES = ["C3", "O1", "12", "007", "s1", "v2", "rest", "Alpha", "EEG", "31", "insula", "ch12"]


@pytest.mark.slow
@pytest.mark.parametrize("code", HARD_CODES)
def test_codes_that_are_common_words_raise_no_alarm_but_are_found_where_codes_stand(
    one_client, tmp_path, code
):
    """An electrode, a number, a settings version, a word of the data: all may be codes."""
    partner = read_partner(one_client, "north")
    found = secrets_of(one_client, partner, set())
    found.add_code(code, "a client's code")
    made = export(one_client, wanted(), DAY, quiet)
    own = {p.name.removeprefix("sub-") for p in (made / "data" / "bids").glob("sub-*")}
    found.ids = frozenset(own)
    try:
        assert scan(made, found) == []
    finally:
        shutil.rmtree(made)
    (tmp_path / f"sub-{code}_ses-01_eeg.json").write_text("{}")
    assert scan(tmp_path, found)
