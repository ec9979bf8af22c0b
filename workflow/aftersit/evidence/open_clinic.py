"""A clinic made from open recordings, for checks, tests and trials; nothing of it is kept."""

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

import yaml

from aftersit.clinic import SittingId
from aftersit.intake.edf_header import read_edf_header

CLINIC = {
    "name": "Clinic of the open recordings (invented)",
    "contact": {"who": "Front desk (invented)", "urgent": "Your local emergency number"},
    "mains_hz": 50,
    "time_zone": "Europe/Vienna",
}


def _condition(name: str, where: dict, band_hz: list[float]) -> dict:
    # An absolute threshold needs no baseline block, and these recordings have none.
    return {
        "name": name,
        "where": where,
        "band_hz": band_hz,
        "direction": "above",
        "threshold": {"absolute": 200.0},
    }


ALPHA = {
    "name": "open-alpha",
    "version": 1,
    "title": "Posterior alpha, and fast power at the edge, absolute",
    "purpose": "Show posterior alpha and fast power of the open recordings against a fixed line.",
    "practices": ["quiet-rest", "other"],
    "literature": "Alpha at the back of the head falls with mental effort.",
    "conditions": [
        _condition("alpha", {"region": "lateraloccipital", "hemisphere": "both"}, [8, 13]),
        _condition("fast-t7", {"electrodes": ["T7"]}, [30, 44]),
        _condition("fast-t8", {"electrodes": ["T8"]}, [30, 44]),
        _condition("fast-fp1", {"electrodes": ["Fp1"]}, [30, 44]),
    ],
    "combine": "any",
}

FAST = {
    **ALPHA,
    "name": "open-fast",
    "title": "A band above 45 Hz",
    "conditions": [_condition("fast", {"region": "insula", "hemisphere": "right"}, [46, 60])],
}


@dataclass(frozen=True)
class Found:
    """An open recording: its file, whose it is, and what was done in it.

    Attributes
    ----------
    path : Path
    sitting : SittingId
    doing : str
        `rest`, `arithmetic`, `eyes open` or `eyes closed`.
    """

    path: Path
    sitting: SittingId
    doing: str

    @property
    def sheet(self) -> dict:
        """One practice block over the whole recording, on an invented day."""
        opened = "open" if self.doing == "eyes open" else "closed"
        seconds = int(read_edf_header(self.path).duration_s)
        return {
            "client": self.sitting.client,
            "date": f"2011-01-{self.sitting.number:02d}",
            "practice": "other" if self.doing == "arithmetic" else "quiet-rest",
            "eyes": opened,
            "blocks": [{"kind": "practice", "start": 0, "end": seconds}],
        }


def found_in(open_data: Path) -> list[Found]:
    """Recordings of the two open sets (Zyma et al. 2019; Schalk et al. 2004), by name."""
    found = []
    for path in sorted(open_data.rglob("*.edf")):
        mental = re.fullmatch(r"Subject(\d\d)_([12])", path.stem)
        motor = re.fullmatch(r"S(\d{3})R0([12])", path.stem)
        if mental:
            sitting = SittingId(f"MA{mental[1]}", int(mental[2]))
            found.append(Found(path, sitting, ("rest", "arithmetic")[sitting.number - 1]))
        elif motor:
            sitting = SittingId(f"MI{int(motor[1]):02d}", int(motor[2]))
            found.append(Found(path, sitting, ("eyes open", "eyes closed")[sitting.number - 1]))
    return found


def make_open_clinic(open_data: Path, root: Path, fast: bool = False) -> None:
    """Write the clinic folder with every open recording in its inbox.

    With `fast`, every sheet asks for the protocol with a band above 45 Hz.
    """
    root.mkdir(parents=True)
    (root / "clinic.yaml").write_text(yaml.safe_dump(CLINIC))
    for protocol in (ALPHA, FAST):
        folder = root / "protocols" / protocol["name"]
        folder.mkdir(parents=True)
        (folder / "v1.yaml").write_text(yaml.safe_dump(protocol))
    for one in found_in(open_data):
        upload = root / "inbox" / one.path.stem.lower().replace("_", "-")
        upload.mkdir(parents=True)
        shutil.copyfile(one.path, upload / one.path.name)
        protocol = "open-fast" if fast else "open-alpha"
        (upload / "sitting.yaml").write_text(yaml.safe_dump({**one.sheet, "protocol": protocol}))
