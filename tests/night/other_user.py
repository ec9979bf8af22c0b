"""Work done as a user who is not root, in a child process: permissions stop nobody else here."""

import os
import pickle
import shutil
import tempfile
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

USER, OTHER = 65533, 65531
"""Numbers that need no account: who runs the night, and who copies uploads."""


def shared_folder() -> Iterator[Path]:
    """A folder that other users can enter, which pytest's own is not; skips where not root."""
    if os.geteuid() != 0:
        pytest.skip("only root can act as a second user")
    folder = Path(tempfile.mkdtemp(prefix="two-users-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


def give(place: Path, user: int) -> Path:
    """Hand a file or folder, with all in it, to a user; others may read it and enter."""
    for path in [place, *place.rglob("*")]:
        os.chown(path, user, user, follow_symlinks=False)
        path.chmod(0o755 if path.is_dir() else 0o644)
    return place


def as_user(work: Callable[[], object], user: int = USER) -> object:
    """What `work` gives when this user does it, in a child; its errors are raised here."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reader)
        os.setgroups([])
        os.setgid(user)
        os.setuid(user)
        os._exit(_tell(work, writer))
    os.close(writer)
    with os.fdopen(reader, "rb") as told:
        good, found = pickle.load(told)
    os.waitpid(child, 0)
    assert good, found
    return found


def _tell(work: Callable[[], object], writer: int) -> int:
    try:
        result = (True, work())
    except BaseException:
        result = (False, traceback.format_exc())
    with os.fdopen(writer, "wb") as told:
        pickle.dump(result, told)
    return 0
