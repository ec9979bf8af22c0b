"""One process at work in a clinic, and what one that was killed left behind."""

import contextlib
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.files import TEMPORARY
from aftersit.night.layout import erasing_path
from aftersit.night.ledger import Ledger
from aftersit.night.lock import night_lock
from aftersit.night.moving import Mover
from aftersit.night.plan import plan_path
from aftersit.night.private import keep_private

_FULL_OF_UPLOADS = ("inbox", "set-aside", "originals", "exports")
WORKPLACES = ("bids-writing", "audit", "tmp", "export-writing")
"""Folders under `.aftersit/` whose content means nothing once its process is gone."""


@contextmanager
def at_work(clinic: Clinic) -> Iterator[int]:
    """Hold the clinic; yields the lock's file descriptor, to be handed to the workflow.

    What a crash interrupted is made good first: temporary files, erasures, moves.

    Raises
    ------
    AlreadyRunningError
        Another process holds the clinic.
    """
    with night_lock(clinic.state) as lock:
        mark = clinic.state / "at-work"
        if mark.exists():
            _sweep(clinic)
        mark.touch()
        for folder in (clinic.inbox, clinic.set_aside):
            folder.mkdir(parents=True, exist_ok=True)
        keep_private(clinic)
        if erasing_path(clinic).exists():
            from aftersit.night.erasing import finish

            finish(clinic)
        Mover(clinic, Ledger(clinic)).recover()
        try:
            yield lock
        except AftersitError:
            mark.unlink()  # a user's mistake is no crash
            raise
        mark.unlink()


def _sweep(clinic: Clinic) -> None:
    """Remove what a killed process was writing; whole files are never touched."""
    plan_path(clinic).unlink(missing_ok=True)
    for name in WORKPLACES:
        shutil.rmtree(clinic.state / name, ignore_errors=True)
    for folder in sorted(clinic.root.iterdir()):
        if folder.is_dir() and folder.name not in _FULL_OF_UPLOADS:
            _sweep_folder(folder)
    for path in clinic.root.glob(f"{TEMPORARY}*"):
        path.unlink()


def _sweep_folder(folder: Path) -> None:
    for place, _, names in os.walk(folder):
        for name in names:
            if name.startswith(TEMPORARY):
                with contextlib.suppress(FileNotFoundError):
                    Path(place, name).unlink()
