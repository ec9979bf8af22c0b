"""Make the whole demo clinic."""

import io
import json
import shutil
from pathlib import Path

import numpy as np

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.head.model import Head, build_head, load_head
from aftersit.protocol import Protocol, load_protocol
from aftersit.settings import load_settings
from demo_clinic import papers
from demo_clinic.noise import generator
from demo_clinic.people import PEOPLE
from demo_clinic.scenario import BROKEN, SITTINGS
from demo_clinic.simulate import Simulated, simulate
from demo_clinic.sitting import Sitting
from demo_clinic.sources import Sources
from demo_clinic.write import label, write_recording

PROTOCOLS = Path(__file__).parents[2] / "config" / "protocols"
SEED = 20260203


def make_demo(
    root: Path,
    seed: int = SEED,
    head: Head | Path | None = None,
    sittings: tuple[Sitting, ...] = (*SITTINGS, BROKEN),
    protocols: Path = PROTOCOLS,
) -> None:
    """Write the demo clinic: settings, protocols, roster, uploads, and the truth beside.

    Parameters
    ----------
    root : Path
        The clinic's folder; made when missing.
    seed : int
        Of everything random; the same seed gives the same bytes.
    head : Head | Path | None
        A built head, a file of `save_head`, or None to build one.
    sittings : tuple of Sitting
        What to simulate.
    protocols : Path
        Folder to copy protocols from, `<name>/v<N>.yaml`.

    Raises
    ------
    AftersitError
        There is a clinic already, or a protocol is missing.
    """
    clinic = Clinic(root)
    if clinic.settings_file.exists():
        raise AftersitError(f"{root} holds a clinic already; delete it or choose another folder")
    rules = {s.protocol: load_protocol(protocols, s.protocol, 1) for s in sittings}
    sources = Sources.of_head(_head(head))
    _write_papers(clinic, protocols)
    for sitting in sittings:
        make_upload(clinic, sitting, rules[sitting.protocol], sources, seed)


def _head(head: Head | Path | None) -> Head:
    if head is None:
        return build_head(load_settings(papers.CLINIC["settings"]).head)
    return load_head(head) if isinstance(head, Path) else head


def _write_papers(clinic: Clinic, protocols: Path) -> None:
    clinic.inbox.mkdir(parents=True)
    shutil.copytree(protocols, clinic.protocols, copy_function=shutil.copyfile)
    roster = clinic.root / "roster.csv"
    roster.touch(mode=0o600)
    roster.chmod(0o600)
    roster.write_text(papers.roster(), encoding="utf-8")
    clinic.settings_file.write_text(papers.as_yaml(papers.CLINIC), encoding="utf-8")


def make_upload(
    clinic: Clinic, sitting: Sitting, protocol: Protocol, sources: Sources, seed: int
) -> None:
    """Simulate one sitting; write its upload into the inbox and its truth beside."""
    made = simulate(sitting, PEOPLE[sitting.client], protocol, sources, seed)
    folder = clinic.inbox / sitting.upload
    folder.mkdir()
    channels = {
        label(name, sitting.labels): row
        for name, row in zip(sources.electrodes, made.signal_uv, strict=True)
    }
    rng = generator(seed, sitting.upload, "room")
    notes = papers.annotations(sitting, made.truth, rng)
    write_recording(folder, sitting, PEOPLE[sitting.client], channels | made.extra_uv, notes)
    (folder / "sitting.yaml").write_text(papers.as_yaml(papers.sheet(sitting)), encoding="utf-8")
    write_truth(clinic.root / "truth", sitting.upload, made)


def write_truth(folder: Path, upload: str, made: Simulated) -> None:
    """Write `<upload>.json` and, second by second, `<upload>.npz`."""
    folder.mkdir(exist_ok=True)
    text = json.dumps(made.truth, indent=1, allow_nan=False)
    (folder / f"{upload}.json").write_text(text + "\n", encoding="utf-8")
    buffer = io.BytesIO()
    np.savez(buffer, **made.arrays)
    (folder / f"{upload}.npz").write_bytes(buffer.getvalue())
