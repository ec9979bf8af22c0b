"""Which files of an upload are the recording and the sheet."""

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from aftersit.intake.problems import EXPORT_AGAIN, Problem, UploadError
from aftersit.intake.reasons import our_reasons

SHEET_NAME = "sitting.yaml"
_HEADS = {".edf": "EDF", ".bdf": "BDF", ".vhdr": "BrainVision", ".fif": "FIF"}
_KNOWN = "EDF, EDF+, BDF, BrainVision (.vhdr, .eeg, .vmrk) or FIF"


@dataclass(frozen=True)
class UploadFiles:
    """The files of an upload; the head is the one that a reader opens."""

    format: str
    head: Path
    parts: tuple[Path, ...]
    sheet: Path

    @property
    def recording(self) -> tuple[Path, ...]:
        """All files of the recording, in a fixed order."""
        return (self.head, *self.parts)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of everything to keep."""
        return tuple(sorted(p.name for p in (*self.recording, self.sheet)))


def find_files(folder: Path) -> UploadFiles:
    """Find one recording and its sheet, and nothing else but reasons of an earlier time.

    Raises
    ------
    UploadError
        Not a folder, links or sub-folders, no or several recordings, no sheet,
        or files that belong to neither.
    """
    if folder.is_symlink() or not folder.is_dir():
        raise _problem(
            "not-a-folder",
            "an upload is a folder with one recording and its sitting sheet",
            "put both into a folder of their own",
        )
    ours = our_reasons(folder)
    entries = sorted(p for p in folder.iterdir() if not _is_clutter(p.name) and p not in ours)
    problems = [*_odd_entries(entries)]
    files = [p for p in entries if p.is_file() and not p.is_symlink()]
    heads = [p for p in files if p.suffix.lower() in _HEADS]
    problems += _wrong_count(heads)
    sheet = folder / SHEET_NAME
    if sheet not in files:
        problems.append(
            Problem(
                "no-sheet",
                "upload folder",
                f"no {SHEET_NAME}",
                f"write the sitting sheet and save it as {SHEET_NAME} beside the recording",
            )
        )
    if problems:
        raise UploadError(*problems)
    return _whole_upload(heads[0], sheet, files)


def _is_clutter(name: str) -> bool:
    """What desktop systems leave in folders."""
    return name in (".DS_Store", "Thumbs.db", "desktop.ini") or name.startswith("._")


def _odd_entries(entries: list[Path]) -> list[Problem]:
    links = sum(p.is_symlink() for p in entries)
    folders = sum(p.is_dir() and not p.is_symlink() for p in entries)
    others = sum(not p.is_symlink() and not p.is_dir() and not p.is_file() for p in entries)
    found = [
        ("link", links, "links to files elsewhere", "put the file itself into the folder"),
        ("sub-folder", folders, "folders inside the folder", "put all files side by side"),
        ("special-file", others, "entries that are no files", "take them out of the folder"),
    ]
    return [
        Problem(code, "upload folder", f"{count} {what}", todo)
        for code, count, what, todo in found
        if count
    ]


def _wrong_count(heads: list[Path]) -> list[Problem]:
    if len(heads) == 1:
        return []
    if not heads:
        todo = f"add the recording of the sitting; allowed: {_KNOWN}"
        return [Problem("no-recording", "upload folder", "no recording", todo)]
    kinds = Counter(p.suffix.lower() for p in heads)
    listed = ", ".join(f"{n} x {kind}" for kind, n in sorted(kinds.items()))
    todo = "leave one recording in the folder; give the others folders of their own"
    return [Problem("several-recordings", "upload folder", f"more than one: {listed}", todo)]


def _whole_upload(head: Path, sheet: Path, files: list[Path]) -> UploadFiles:
    parts = _brainvision_parts(head, files) if head.suffix.lower() == ".vhdr" else ()
    foreign = len(set(files) - {head, sheet, *parts})
    if foreign:
        raise _problem(
            "foreign-files",
            f"{foreign} file(s) that belong neither to the recording nor to the sheet",
            f"leave only the recording and {SHEET_NAME} in the folder",
        )
    return UploadFiles(_HEADS[head.suffix.lower()], head, parts, sheet)


def _brainvision_parts(head: Path, files: list[Path]) -> tuple[Path, ...]:
    """Signal and marker file; names that lead out of the folder are never followed."""
    text = header_text(head)
    parts = []
    for key, what in (("DataFile", "signal"), ("MarkerFile", "marker")):
        names = set(re.findall(rf"^\s*{key}\s*=\s*(.+?)\s*$", text, re.MULTILINE | re.IGNORECASE))
        if not names and key == "MarkerFile":
            continue
        name = names.pop().replace("$b", head.stem) if len(names) == 1 else ""
        part = head.parent / name
        if not name or Path(name).name != name or part not in files or part == head:
            raise _problem(
                "part-missing",
                f"the {what} file that the .vhdr names is not in the folder",
                "add all three files (.vhdr, .eeg, .vmrk) under the names that they were saved "
                "with, or " + EXPORT_AGAIN,
            )
        parts.append(part)
    return tuple(parts)


def header_text(head: Path) -> str:
    """Text of a `.vhdr`."""
    with head.open("rb") as file:
        return decoded(file.read(1_000_000))


def decoded(data: bytes) -> str:
    """Text of a BrainVision file; old ones are not UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _problem(code: str, found: str, todo: str) -> UploadError:
    return UploadError(Problem(code, "upload folder", found, todo))
