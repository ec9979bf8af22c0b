import shutil

import done_clinic
import pytest
from done_clinic import DAY, WOMAN, One

import small_uploads
from aftersit.archive.export import Wanted, export
from aftersit.clinic import Clinic


@pytest.fixture(scope="session")
def results(tmp_path_factory):
    """Results of one invented sitting, to copy."""
    return done_clinic.make_results(tmp_path_factory.mktemp("results"))


@pytest.fixture(scope="session")
def template(tmp_path_factory, results):
    """Five sittings of four clients, one of each format; all agree to research."""
    uploads = [
        One("K07", "2026-03-14", {**WOMAN, "notes": "Slept badly, spoke of Philippa at length"}),
        One("M12", "2026-03-15", {**WOMAN, "age": 47}, write_bdf),
        One("T05", "2026-03-16", WOMAN, small_uploads.write_brainvision),
        One("H22", "2026-03-17", WOMAN, write_fif),
        One("K07", "2026-03-24", WOMAN),
    ]
    consents = dict.fromkeys(("K07", "M12", "T05", "H22"), "yes 2026-01-02")
    root = tmp_path_factory.mktemp("template") / "clinic"
    clinic = done_clinic.make_clinic(root, uploads, consents)
    done_clinic.finish(clinic, results)
    return root


def write_bdf(folder):
    data = small_uploads.eeg_uv() * 0.73
    (folder / "rec.bdf").write_bytes(small_uploads.edf_bytes(data=data, bdf=True))


def write_fif(folder):
    small_uploads.write_fif(folder / "rec.fif", data=small_uploads.eeg_uv() * 0.61)


@pytest.fixture
def clinic(template, tmp_path):
    """A fresh copy of the finished clinic."""
    shutil.copytree(template, tmp_path / "clinic")
    return Clinic(tmp_path / "clinic")


@pytest.fixture(scope="session")
def made(template, tmp_path_factory):
    """A clinic with one export, `exports/first`; not to be changed."""
    root = tmp_path_factory.mktemp("made") / "clinic"
    shutil.copytree(template, root)
    export(Clinic(root), Wanted("first", "north"), DAY, lambda line: None)
    return Clinic(root)


@pytest.fixture(scope="session")
def bag(made):
    return made.root / "exports" / "first"


@pytest.fixture
def say():
    """Collects what is told."""
    lines = []

    def add(line):
        lines.append(line)

    add.lines = lines
    return add
