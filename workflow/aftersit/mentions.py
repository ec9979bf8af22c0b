"""Where a client's code stands in names and texts."""

import os
import re
from pathlib import Path

from aftersit.clinic import Clinic

WORD = r"(?<![A-Za-z0-9]){}(?![A-Za-z0-9])"
"""A whole word; hyphens, slashes and underscores end one, as in `sub-K07_ses-03`."""

_TEXTS = {
    *(".csv", ".html", ".json", ".jsonl", ".log", ".md", ".sha256"),
    *(".tsv", ".txt", ".vhdr", ".vmrk", ".yaml", ".yml"),
}
ERASED = "(erased)"


def mentions(text: str, code: str) -> bool:
    """Whether a client's code stands in a text, as a word of its own, in any case of letters."""
    return re.search(WORD.format(re.escape(code)), text, re.IGNORECASE) is not None


def scrubbed(text: str, code: str) -> str:
    """The text with the client's sittings and code taken out."""
    return re.sub(WORD.format(rf"{re.escape(code)}(/\d+)?"), ERASED, text, flags=re.IGNORECASE)


def places_that_mention(clinic: Clinic, codes: set[str], but: Path) -> list[str]:
    """Files under a clinic whose name or text has one of the codes, from its folder.

    Parameters
    ----------
    clinic : Clinic
        The clinic.
    codes : set of str
        Client codes or research ids.
    but : Path
        A folder to leave out.
    """
    found = []
    for folder, folders, names in os.walk(clinic.root):
        if Path(folder) == but.parent and but.name in folders:
            folders.remove(but.name)
        paths = (Path(folder, name) for name in sorted(names))
        found += [p for p in paths if _mentions_any(p, clinic.root, codes)]
    return sorted(str(p.relative_to(clinic.root)) for p in found)


def _mentions_any(path: Path, root: Path, codes: set[str]) -> bool:
    texts = [str(path.relative_to(root))]
    if path.suffix.lower() in _TEXTS and path.is_file() and not path.is_symlink():
        texts.append(path.read_text(encoding="utf-8", errors="replace"))
    return any(mentions(text, code) for text in texts for code in codes)
