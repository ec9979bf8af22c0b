"""Whole nights over tiny sittings, in processes of their own, for tests that disturb them."""

import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import edfio
import numpy as np
import uploads
import yaml

from aftersit.clinic import Clinic
from aftersit.head.atlas import half_keys
from aftersit.head.model import build_head, save_head
from aftersit.head.plausible import COLUMNS, PlausibleHeads, save_plausible
from aftersit.night.contents import contents
from aftersit.night.ledger import Ledger
from aftersit.night.models import clinic_model
from aftersit.night.register import Register
from aftersit.settings import load_settings
from aftersit.shared_imports import NAME as STEPS
from small_uploads import edf_bytes

SECONDS = 62
MOST_S = 3600
"""A night takes 20 s on a machine that has nothing else to do."""
RATE = 128
PERSON = "Erika_Mustermann"
SECOND = uploads.PROTOCOL | {
    "name": "back-theta",
    "conditions": [
        {
            "name": "theta",
            "where": {"electrodes": ["O1", "O2"]},
            "band_hz": [4, 7],
            "direction": "below",
            "threshold": {"absolute": 3.0},
        }
    ],
}
NIGHT = """
import sys
from aftersit.night import run, settings
quick = settings.load_night_settings().model_copy(update={"settle_s": 0.05})
run.load_night_settings = lambda: quick
from aftersit.cli import main
sys.exit(main(["nightly", "--clinic", sys.argv[1]]))
"""
_GROWING = {".aftersit/register.jsonl", ".aftersit/unreported.jsonl"}
_OF_THE_CLOCK = {".aftersit/last-night.json", ".aftersit/bids.lock", ".aftersit/night.lock"}


def make_models(clinic: Clinic) -> None:
    """The template head, built; and heads that a client's could be, made up in no time."""
    settings = load_settings("s1").head
    head = build_head(settings)
    models = clinic_model(clinic)
    save_head(head, models.head)
    rng = np.random.default_rng(27)
    names = np.char.add(np.char.add(head.region, "-"), head.hemisphere)
    halves = [head.gain[:, names == key] for key in half_keys()]
    apart = np.stack([part @ part.T for part in halves])
    in_step = np.stack([part.sum(axis=1) for part in halves])
    factors = 1 + 0.1 * rng.normal(size=(5, len(head.names)))
    made_up = PlausibleHeads(
        names=head.names,
        template=apart,
        drawn=np.stack([apart * np.outer(f, f) for f in factors]),
        template_in_step=in_step,
        drawn_in_step=np.stack([in_step * f for f in factors]),
        heads=rng.uniform(size=(5, len(COLUMNS))),
    )
    save_plausible(made_up, models.plausible)


def signal_uv(seed: int) -> np.ndarray:
    """White noise, and alpha that comes and goes; shape (19, samples)."""
    rng = np.random.default_rng(seed)
    t = np.arange(SECONDS * RATE) / RATE
    alpha = 8 * np.sin(2 * np.pi * 10.3 * t) * (1 + np.sin(2 * np.pi * 0.1 * t))
    noise = rng.normal(0, 9, (19, t.size)) + alpha * rng.uniform(0.2, 1, (19, 1))
    return np.round(noise, 2)


def write_edf(folder: Path, data: np.ndarray) -> None:
    patient = edfio.Patient(name=PERSON, code="MRN-31")
    (folder / f"{PERSON}.edf").write_bytes(edf_bytes(data=data, patient=patient))


def make_sitting(folder: Path, seed: int, write=write_edf, **changes) -> None:
    """An upload of `signal_uv`; `write` gets its folder and the signal."""
    folder.mkdir(parents=True)
    write(folder, signal_uv(seed))
    blocks = [
        {"kind": "practice", "start": 0, "end": 31},
        {"kind": "practice", "start": 31, "end": SECONDS, "protocol": SECOND["name"]},
    ]
    sheet = uploads.SHEET | {"blocks": blocks, "notes": f"{PERSON} slept badly"} | changes
    (folder / "sitting.yaml").write_text(yaml.safe_dump(sheet))


def make_start(root: Path) -> Clinic:
    """A clinic before its first night: a sitting under two protocols, twice; a bad upload."""
    clinic = Clinic(uploads.make_clinic(root))
    second = clinic.protocols / SECOND["name"] / "v1.yaml"
    second.parent.mkdir()
    second.write_text(yaml.safe_dump(SECOND))
    make_sitting(clinic.inbox / "u0", 3, client="K01")
    shutil.copytree(clinic.inbox / "u0", clinic.inbox / "u0-again")
    make_sitting(clinic.inbox / "bad", 2, practise="x")
    return clinic


def start_night(root: Path) -> subprocess.Popen:
    """Begin a night in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-c", NIGHT, str(root)],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        umask=0o077,
    )


def run_night(root: Path) -> tuple[int, str]:
    """A whole night: exit code and what it said."""
    night = start_night(root)
    said, _ = night.communicate(timeout=MOST_S)
    return night.returncode, said


def results(clinic: Clinic) -> dict:
    """All that must not depend on what disturbed the nights before."""
    found = {
        name: checksum
        for name, checksum in contents(clinic.root).items()
        if not name.startswith((".snakemake/", ".aftersit/logs/", "reports/nightly/"))
        and name not in _GROWING | _OF_THE_CLOCK
        and not name.endswith("provenance.json")
    }
    for place, files in Register(clinic).holdings().items():
        found[f"register of {place}"] = str(sorted(files.items()))
    for entry in Ledger(clinic).entries():
        found[f"finished {entry.sitting}"] = str(Ledger(clinic).is_finished(entry))
    return found


def differences(one: dict, two: dict) -> list[str]:
    """Names of what is not the same."""
    return sorted(name for name in {*one, *two} if one.get(name) != two.get(name))


@dataclass(frozen=True)
class Process:
    """A running process and what it does."""

    pid: int
    what: str


def descendants(pid: int) -> list[Process]:
    """All processes that come from this one, by number."""
    parents = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            state, parent = (folder / "stat").read_text().rpartition(")")[2].split()[:2]
        except OSError:
            continue
        if state != "Z":
            parents[int(folder.name)] = int(parent)
    found, wave = [], {pid}
    while wave:
        wave = {child for child, parent in parents.items() if parent in wave}
        found += wave
    return [Process(one, _what(one)) for one in sorted(found)]


def _what(pid: int) -> str:
    try:
        name = Path(f"/proc/{pid}/comm").read_text().strip()
        words = Path(f"/proc/{pid}/cmdline").read_bytes().decode("utf-8", "replace").split("\0")
    except OSError:
        return "gone"
    steps = [Path(w).stem for w in words if "/scripts/" in w and w.endswith(".py")]
    if steps:
        return steps[0]
    if name in ("snakemake", STEPS):  # forks of the night, whose words they have
        return name
    return "reading an upload" if NIGHT in words else Path(words[0]).name


def kill_group(night: subprocess.Popen) -> None:
    """Kill -9 of the whole process group, and wait until the kernel has done it."""
    os.killpg(night.pid, signal.SIGKILL)
    night.communicate()
    for _ in range(500):
        try:
            os.killpg(night.pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.01)
    raise AssertionError("processes of a killed night live on")
