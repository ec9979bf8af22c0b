"""Taking an upload out of the inbox, or back in, so that a crash at any point can be made good.

What is about to happen is written down first (`.aftersit/moving.json`). The rename is the
one step that counts: before it nothing has happened, after it the rest is done again.
"""

import contextlib
import os
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.closed import Closed
from aftersit.errors import AftersitError
from aftersit.files import TEMPORARY, write_atomically
from aftersit.intake.reasons import WHY_JSON, WHY_TEXT
from aftersit.intake.upload_files import SHEET_NAME
from aftersit.names import code_of, shown
from aftersit.night.contents import Contents, coded, contents
from aftersit.night.inbox import move, remove, remove_leftovers
from aftersit.night.ledger import Entry, Ledger
from aftersit.night.private import make_private
from aftersit.night.register import Register

REASONS = (WHY_JSON, WHY_TEXT)
SHEET = code_of(SHEET_NAME)
"""How the register names an upload's sheet."""


class Move(Closed):
    """One upload on its way; paths from the clinic's folder, as bytes in hexadecimal.

    Exactly one of the three says where to: `entry` to originals/, `reasons` (the
    texts of `why.json` and `why.txt`) to set-aside/, `back` from there to the inbox.
    """

    source: str
    target: str
    entry: Entry | None = None
    reasons: tuple[str, str] | None = None
    back: bool = False


class Mover:
    """Moves uploads of one clinic; the caller holds the night's lock."""

    def __init__(self, clinic: Clinic, ledger: Ledger):
        self.clinic = clinic
        self.ledger = ledger
        self.register = Register(clinic)
        self._note = clinic.state / "moving.json"

    def take(self, upload: Path, entry: Entry) -> None:
        """Move an upload to originals/ as the newest revision of `entry`."""
        target = self.clinic.original(entry.sitting, entry.revision.number)
        self._carry_out(self._move(upload, target, entry=entry))

    def set_aside(self, upload: Path, target: Path, reasons: tuple[str, str]) -> None:
        """Move an upload to `target`, in set-aside/, and write the reasons beside it.

        What is no folder, and a folder that brings files of the reasons' names,
        gets a folder around it.
        """
        plain = upload.is_dir() and not upload.is_symlink()
        if not plain or any((upload / name).exists() for name in REASONS):
            target = target / upload.name
        self._carry_out(self._move(upload, target, reasons=reasons))

    def send_back(self, kept: Path, upload: Path) -> None:
        """Move a set-aside upload to the inbox, without the reasons."""
        self._carry_out(self._move(kept, upload, back=True))

    def recover(self) -> None:
        """Make good what a crash interrupted, and register what came here by another way."""
        for folder in (self.clinic.inbox, self.clinic.set_aside):
            remove_leftovers(folder)
        if self._note.is_file():
            or_else = ", or delete it and run `audit`"
            going = Move.from_own_json(self._note, ".aftersit/moving.json", or_else)
            target = self._path(going.target)
            if os.path.lexists(target):
                self._finish(going)
                self._note.unlink()
            else:
                self._call_off(target)
        self._register_what_is_aside()

    def _register_what_is_aside(self) -> None:
        """Register what people put into set-aside/, or gave another name there."""
        known = self.register.holdings()
        aside = {
            self._place(p): p for p in sorted(self.clinic.set_aside.iterdir()) if _is_upload(p)
        }
        gone = [p for p in known if p.startswith("set-aside/") and p not in aside]
        for place in (p for p in aside if p not in known):
            held = set_aside_contents(aside[place])
            self.register.add(place, held)
            for old in [p for p in gone if _same_recording(known[p], coded(held))]:
                self.register.release(old)
                gone.remove(old)

    def _move(self, source: Path, target: Path, **more) -> Move:
        relative = (p.relative_to(self.clinic.root) for p in (source, target))
        hexadecimal = [os.fsencode(p).hex() for p in relative]
        return Move(source=hexadecimal[0], target=hexadecimal[1], **more)

    def _path(self, hexadecimal: str) -> Path:
        return self.clinic.root / os.fsdecode(bytes.fromhex(hexadecimal))

    def _carry_out(self, going: Move) -> None:
        source, target = self._path(going.source), self._path(going.target)
        if os.path.lexists(target):
            raise AftersitError(f"{self._place(target)} is there already")
        self._check_room(target)
        write_atomically(self._note, going.model_dump_json())
        make_private(source)
        try:
            move(source, target)
        except PermissionError:
            if not os.path.lexists(target):
                self._call_off(target)
            raise
        self._finish(going)
        self._note.unlink()

    def _check_room(self, target: Path) -> None:
        """AftersitError when this user may not write where a move goes to."""
        folder = next(parent for parent in target.parents if os.path.exists(parent))
        if os.access(folder, os.W_OK | os.X_OK):
            return
        place = target.relative_to(self.clinic.root).parts[0]
        raise AftersitError(
            f"{place}/ or a folder in it can't be written by the user that runs this; make all of "
            f"{place}/ theirs (`chown -R`), then start again; the upload stays where it is"
        )

    def _call_off(self, target: Path) -> None:
        """Forget a move that did not come about."""
        if target.parent not in (self.clinic.inbox, self.clinic.set_aside):
            with contextlib.suppress(OSError):
                target.parent.rmdir()  # made for what then did not come
        self._note.unlink()

    def _finish(self, going: Move) -> None:
        """All that follows the rename; doing it twice changes nothing."""
        source, target = self._path(going.source), self._path(going.target)
        if os.path.lexists(source) and contents(source) == contents(target):
            remove(source)  # a move from another disk was stopped before its last step
        if going.entry:
            self.ledger.write(going.entry)
            self.register.add(self._place(target), contents(target))
        elif going.back:
            for name in REASONS:
                (target / name).unlink(missing_ok=True)
            self.register.release(self._place(source))
        else:
            self._write_reasons(target, going.reasons)

    def _write_reasons(self, target: Path, reasons: tuple[str, str]) -> None:
        folder = self.clinic.set_aside / target.relative_to(self.clinic.set_aside).parts[0]
        if self._place(folder) not in self.register.holdings():
            self.register.add(self._place(folder), set_aside_contents(folder))
        held = self.register.holdings()[self._place(folder)]
        for half_written in folder.glob(f"{TEMPORARY}*"):
            if code_of(half_written.name) not in held:
                half_written.unlink()
        for name, text in zip(REASONS, reasons, strict=True):
            write_atomically(folder / name, text)

    def _place(self, path: Path) -> str:
        return shown(str(path.relative_to(self.clinic.root)))


def set_aside_contents(folder: Path) -> Contents:
    """What a set-aside upload holds, without the reasons that stand beside it."""
    return {name: found for name, found in contents(folder).items() if name not in REASONS}


def _same_recording(one: Contents, two: Contents) -> bool:
    """Whether two uploads, with codes for names, share a file that is no sheet."""
    sums = ({s for name, s in held.items() if name != SHEET} for held in (one, two))
    return bool(set.intersection(*sums)) or one == two


def _is_upload(path: Path) -> bool:
    return not path.name.startswith(".")
