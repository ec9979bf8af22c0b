"""What one record was made from: `made_from.json` beside it, the same bytes each time."""

from collections.abc import Sequence
from pathlib import Path

from aftersit.algorithms import split_label
from aftersit.closed import Closed
from aftersit.files import sha256, write_json
from aftersit.replay.files import Inputs
from aftersit.settings import Settings

NAME = "made_from.json"
RESULTS = ("record.json", "timeline-cleaned.tsv", "timeline-uncleaned.tsv")
"""Files of one replay; their roles are the names without endings."""


class UsedFile(Closed):
    """A file that was read; the path counts from the clinic's folder."""

    path: str
    sha256: str


class MadeFrom(Closed):
    """Files, settings, versions and seed behind one record, and what came of them."""

    schema_version: str = "1"
    label: str
    settings: str
    algorithms: int
    seed: int
    files: dict[str, UsedFile]
    results: dict[str, UsedFile] = {}
    """What was written from them: the record and its timelines."""

    def same(self, other: "MadeFrom", roles: Sequence[str]) -> bool:
        """Whether two records rest on the same label and the same files in these roles."""
        return self.label == other.label and all(
            self.files.get(role) == other.files.get(role) for role in roles
        )

    def results_stand(self, root: Path = Path(), names: Sequence[str] = RESULTS) -> bool:
        """Whether results still hold what was written.

        Parameters
        ----------
        root : Path
            The clinic's folder; the working folder unless given.
        names : sequence of str
            Of `RESULTS`.
        """
        written = [self.results.get(Path(name).stem) for name in names]
        return all(
            used and (root / used.path).is_file() and sha256([root / used.path]) == used.sha256
            for used in written
        )


def input_files(inputs: Inputs, protocol: Path, settings: Path, facts: Path) -> dict[str, Path]:
    """Every file that a replay reads, by its role."""
    raw, clean = inputs.raw, inputs.clean
    events = raw.with_name(raw.name.removesuffix("_eeg.vhdr") + "_events.tsv")
    return {
        "sheet facts": facts,
        "raw header": raw,
        "raw signal": raw.with_suffix(".eeg"),
        "raw sidecar": raw.with_suffix(".json"),
        "blocks": events,
        "cleaned header": clean,
        "cleaned signal": clean.with_suffix(".eeg"),
        "cleaned sidecar": clean.with_suffix(".json"),
        "region measures": inputs.regions,
        "cross-spectra": inputs.cross,
        "head": inputs.head,
        "protocol": protocol,
        "settings": settings,
    }


SMALL = ("sheet facts", "blocks", "cleaned sidecar", "region measures", "cross-spectra")
"""Roles that show in no time whether a record still stands, beside protocol and settings."""


def made_from(
    files: dict[str, Path], label: str, settings: Settings, only: Sequence[str] = ()
) -> MadeFrom:
    """Checksums of what a record is made from.

    Parameters
    ----------
    files : dict
        As from `input_files`; paths from the clinic's folder, which is the working folder.
    label : str
        Label that the record stands under.
    settings : Settings
    only : sequence of str
        Only these roles; all when empty.
    """
    version, algorithms = split_label(label)
    used = {
        role: UsedFile(path=path.as_posix(), sha256=sha256([path]))
        for role, path in files.items()
        if path.is_file() and (not only or role in only)
    }
    return MadeFrom(
        label=label, settings=version, algorithms=algorithms, seed=settings.seed, files=used
    )


def write_made_from(found: MadeFrom, folder: Path) -> None:
    """Write `made_from.json` beside a record, whose checksums and its timelines' are added.

    Parameters
    ----------
    folder : Path
        Holds them; from the clinic's folder, which is the working folder.
    """
    results = {
        path.stem: UsedFile(path=path.as_posix(), sha256=sha256([path]))
        for path in (folder / name for name in RESULTS)
    }
    told = found.model_copy(update={"results": results})
    write_json(folder / NAME, told.model_dump(mode="json"))


def read_made_from(folder: Path) -> MadeFrom | None:
    """What stands beside a record; None where nothing does."""
    path = folder / NAME
    return MadeFrom.model_validate_json(path.read_bytes()) if path.is_file() else None
