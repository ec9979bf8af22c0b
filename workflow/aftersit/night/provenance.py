"""Where clock times, host facts and run times stand, and nowhere else."""

import datetime as dt
import json
import platform
import re
from functools import cache
from importlib.metadata import distributions
from pathlib import Path

from aftersit import __version__
from aftersit.clinic import Clinic, SittingId
from aftersit.files import sha256, write_json
from aftersit.intake.upload_files import find_files
from aftersit.night.kept_settings import regions_file, settings_file
from aftersit.night.plan import PlannedSitting

_COST = re.compile(r"^cost: cpu_s=([\d.]+) wall_s=([\d.]+) peak_mb=([\d.]+)$", re.MULTILINE)

_FIELD = {f: re.compile(rf"^{f}: *(\S+)", re.MULTILINE) for f in ("Name", "Version")}


def costs(log_folder: Path) -> dict[str, dict[str, float]]:
    """CPU seconds, wall seconds and peak memory of each step, from its log."""
    found = {}
    for log in sorted(log_folder.glob("*.log")):
        matches = _COST.findall(log.read_text(errors="replace"))
        if matches:
            cpu, wall, peak = map(float, matches[-1])
            found[log.stem] = {"cpu_s": cpu, "wall_s": wall, "peak_mb": peak}
    return found


def write_provenance(clinic: Clinic, planned: PlannedSitting, now: dt.datetime) -> None:
    """Write `provenance.json` beside a sitting's pages."""
    write_json(
        clinic.report(planned.sitting) / "provenance.json",
        {
            "made": now.isoformat(timespec="seconds"),
            "aftersit": __version__,
            "inputs": sums_of_inputs(clinic, planned.settings),
            "protocols": planned.protocols,
            "revision": planned.revision,
            "originals": _sums(clinic.root / planned.original),
            "records": {r: sha256([clinic.root / r]) for r in planned.records},
            "steps": costs(clinic.root / planned.logs),
            "host": {
                "system": platform.platform(),
                "processor": platform.machine(),
                "python": platform.python_version(),
            },
            "packages": _packages(),
        },
    )


@cache
def _packages() -> dict[str, str]:
    """What is installed, by name; the same for all sittings of a night."""
    found = (_name_and_version(d.read_text("METADATA") or "") for d in distributions())
    return dict(sorted(filter(all, found), key=lambda one: one[0].lower()))


def _name_and_version(metadata: str) -> tuple[str, str]:
    """Of a package; what stands below its head is long, and not looked at.

    Core metadata specification: a head as in RFC 822, then an empty line and the description.
    """
    head = metadata.partition("\n\n")[0]
    name, version = (_FIELD[field].search(head) for field in ("Name", "Version"))
    return name[1] if name else "", version[1] if version else ""


def sums_of_inputs(clinic: Clinic, settings: str) -> dict[str, str]:
    """Checksums of what a result depends on beside the upload and its protocols."""
    regions = regions_file(clinic, settings) or clinic.root / "regions.yaml"
    paths = {
        f"{settings}.yaml": settings_file(clinic, settings),
        "clinic.yaml": clinic.settings_file,
        "words.yaml": clinic.root / "words.yaml",
        "regions.yaml": regions,
    }
    return {name: sha256([path]) for name, path in paths.items() if path.is_file()}


def read_inputs(clinic: Clinic, sitting: SittingId) -> dict[str, str]:
    """The same, as they were when a sitting was made; empty when that is not known."""
    path = clinic.report(sitting) / "provenance.json"
    return json.loads(path.read_text()).get("inputs", {}) if path.is_file() else {}


def _sums(original: Path) -> dict[str, str]:
    """Checksums of the uploaded files by what they are; their names may be anything."""
    files = find_files(original)
    parts = {f"recording{path.suffix}": sha256([path]) for path in files.recording}
    return parts | {"sheet": sha256([files.sheet])}
