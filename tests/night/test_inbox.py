import errno
import os
import threading
import time

import pytest

from aftersit.night.inbox import move, settled, unused


@pytest.fixture
def inbox(tmp_path):
    for name in ("b", "a"):
        (tmp_path / "inbox" / name).mkdir(parents=True)
        (tmp_path / "inbox" / name / "x.edf").write_bytes(b"12345")
    return tmp_path / "inbox"


def test_whole_uploads_are_ready_by_name(inbox):
    ready, waiting = settled(inbox, 0.01)
    assert [p.name for p in ready] == ["a", "b"]
    assert waiting == []


def test_an_upload_with_a_part_file_waits(inbox):
    (inbox / "b" / "y.edf.part").write_bytes(b"1")
    ready, waiting = settled(inbox, 0.01)
    assert ([p.name for p in ready], [p.name for p in waiting]) == (["a"], ["b"])


@pytest.mark.parametrize("name", ["z.part", "Z.PART", ".b.Xq3"])
def test_a_folder_may_say_itself_that_it_is_not_whole(inbox, name):
    (inbox / "b").rename(inbox / name)
    ready, waiting = settled(inbox, 0.01)
    assert ([p.name for p in ready], [p.name for p in waiting]) == (["a"], [name])


def test_new_bytes_under_an_old_time_and_the_same_size_still_wait(inbox):
    """Copiers make the file its full size first, and set its time back at the end."""

    def fill():
        time.sleep(0.1)
        path = inbox / "a" / "x.edf"
        before = path.stat()
        path.write_bytes(b"54321")
        os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))

    thread = threading.Thread(target=fill)
    thread.start()
    ready, waiting = settled(inbox, 0.5)
    thread.join()
    assert ([p.name for p in ready], [p.name for p in waiting]) == (["b"], ["a"])


def test_a_ring_of_links_is_not_walked(inbox):
    (inbox / "a" / "loop").symlink_to(inbox / "a")
    assert [p.name for p in settled(inbox, 0.01)[0]] == ["a", "b"]


def test_an_upload_that_grows_between_the_looks_waits(inbox):
    def grow():
        time.sleep(0.1)
        with (inbox / "a" / "x.edf").open("ab") as file:
            file.write(b"6")

    thread = threading.Thread(target=grow)
    thread.start()
    ready, waiting = settled(inbox, 0.5)
    thread.join()
    assert ([p.name for p in ready], [p.name for p in waiting]) == (["b"], ["a"])


def test_hidden_entries_are_passed_over(inbox):
    (inbox / ".DS_Store").write_bytes(b"")
    ready, waiting = settled(inbox, 0)
    assert len(ready) + len(waiting) == 2


def test_moving_keeps_every_byte(inbox, tmp_path):
    move(inbox / "a", tmp_path / "deep" / "er" / "r1")
    assert not (inbox / "a").exists()
    assert (tmp_path / "deep" / "er" / "r1" / "x.edf").read_bytes() == b"12345"


def test_from_another_disk_it_is_copied_whole_and_then_removed(inbox, tmp_path, monkeypatch):
    rename = os.rename

    def refuse(source, target):
        if str(source).startswith(str(inbox)) and not str(target).startswith(str(inbox)):
            raise OSError(errno.EXDEV, "Invalid cross-device link")
        rename(source, target)

    monkeypatch.setattr(os, "rename", refuse)
    os.mkfifo(inbox / "a" / "pipe")
    (inbox / "a" / "link").symlink_to("x.edf")
    move(inbox / "a", tmp_path / "r1")
    assert sorted(p.name for p in (tmp_path / "r1").iterdir()) == ["link", "x.edf"]
    assert (tmp_path / "r1" / "x.edf").read_bytes() == b"12345"
    assert [p.name for p in inbox.iterdir()] == ["b"]


def test_unused_counts_up(tmp_path):
    for name in ("u", "u.2"):
        (tmp_path / name).mkdir()
    assert unused(tmp_path / "u").name == "u.3"
    assert unused(tmp_path / "v").name == "v"
