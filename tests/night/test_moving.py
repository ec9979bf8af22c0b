"""Uploads and folders of other users: what may not be moved stays, and is told."""

import os
import shutil
import stat
from pathlib import Path

import pytest
from other_user import OTHER, USER, as_user, give, shared_folder
from quick_nights import findings_of, receive, without_waiting
from uploads import make_clinic, make_upload

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.night.session import at_work
from aftersit.night.unreported import Unreported

two_users = pytest.fixture(shared_folder)


@pytest.fixture(scope="module")
def template(tmp_path_factory):
    """A clinic with one sitting; uploads for it, and what intake says of each."""
    folder = tmp_path_factory.mktemp("moving")
    clinic = Clinic(make_clinic(folder / "clinic"))
    make_upload(clinic.inbox / "a", 1)
    receive(clinic)
    make_upload(clinic.inbox / "same", 1)
    make_upload(clinic.inbox / "new", 2)
    make_upload(clinic.inbox / "bad", 3, practise="x")
    findings = findings_of(clinic)
    clinic.inbox.rename(folder / "uploads")
    clinic.inbox.mkdir()
    return folder, findings


@pytest.fixture
def findings(template):
    return template[1]


@pytest.fixture
def clinic(template, two_users):
    """It belongs to a user who is not root."""
    shutil.copytree(template[0] / "clinic", two_users / "clinic")
    give(two_users / "clinic", USER)
    return Clinic(two_users / "clinic")


@pytest.fixture
def upload(template, clinic):
    """Puts one of the uploads into the inbox."""

    def put(name: str, user: int = OTHER) -> Path:
        shutil.copytree(template[0] / "uploads" / name, clinic.inbox / name)
        return give(clinic.inbox / name, user)

    return put


def close(folder: Path, mode: int) -> None:
    """Make a folder, not what is in it, another user's; the night's user is in its group."""
    folder.mkdir(exist_ok=True)
    os.chown(folder, OTHER, USER)
    folder.chmod(mode)


def names(folder):
    return sorted(p.name for p in folder.iterdir())


def assert_nothing_is_left_to_do(clinic):
    """No move is under way, nothing waits to be told, and the next command can work."""

    def work():
        with at_work(clinic):
            return Unreported(clinic).arrivals()

    told = as_user(work)
    assert (told.received, told.had_already, told.set_aside) == ({}, {}, {})
    assert not (clinic.state / "moving.json").exists()


@pytest.mark.parametrize("name", ["same", "new", "bad"])
@pytest.mark.parametrize("mode", [0o755, 0o744, 0o700])
def test_an_upload_of_another_user_stays_as_it_is(clinic, upload, findings, name, mode):
    """Also a folder that can be listed and not entered (0744)."""
    theirs = upload(name)
    theirs.chmod(mode)
    for _ in range(2):  # the second night finds what the first one left
        arrivals = as_user(lambda: receive(clinic, findings))
        assert arrivals.denied == [name]
        assert (arrivals.received, arrivals.had_already, arrivals.waiting) == ({}, {}, [])
    assert names(clinic.inbox) == [name]
    assert names(theirs) == ["sitting.edf", "sitting.yaml"]
    assert_nothing_is_left_to_do(clinic)


def test_a_read_only_copy_of_what_came_before_is_removed(clinic, upload, findings):
    """As `cp -a` from a read-only disk leaves it: the user's own, without the right to write."""
    upload("same", USER).chmod(0o555)
    assert list(as_user(lambda: receive(clinic, findings)).had_already) == ["same"]
    assert names(clinic.inbox) == []


@pytest.mark.parametrize("name", ["same", "new", "bad"])
def test_in_an_inbox_with_the_sticky_bit_nothing_is_told_that_was_not_done(
    clinic, upload, findings, name
):
    """Only owners may take their files out of such a folder: rename(2), EPERM."""
    theirs = upload(name)
    for path in (theirs, *theirs.iterdir()):
        path.chmod(0o777)
    close(clinic.inbox, 0o770 | stat.S_ISVTX)

    def work():
        with at_work(clinic):
            return without_waiting(clinic, findings).receive()

    assert as_user(work).denied == [name]
    assert names(theirs) == ["sitting.edf", "sitting.yaml"]
    assert_nothing_is_left_to_do(clinic)


def test_a_removal_that_can_not_be_finished_stops_nothing(clinic, upload):
    left = upload("new").rename(clinic.inbox / ".removing-4c55a855")

    def work():
        with at_work(clinic):
            return names(left)

    assert as_user(work) == ["sitting.edf", "sitting.yaml"]


@pytest.mark.parametrize(("place", "mode"), [("originals", 0o700), ("originals/K07", 0o750)])
def test_a_place_that_can_not_be_written_is_an_error_and_nothing_is_told(
    clinic, upload, findings, place, mode
):
    upload("new", USER)
    close(clinic.root / place, mode)

    def work():
        try:
            return receive(clinic, findings)
        except AftersitError as error:
            return str(error)

    said = as_user(work)
    assert said.startswith("originals/ or a folder in it can't be written by")
    assert names(clinic.inbox) == ["new"]
    give(clinic.root / place, USER)
    assert_nothing_is_left_to_do(clinic)
