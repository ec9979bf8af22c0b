"""A clinic made from the open recordings, for tests and trials; nothing of it is kept.

`python tests/open_clinic.py OPEN_DATA FOLDER` makes one by hand.
"""

import shutil
import sys
from pathlib import Path

import yaml

CLINIC = {
    "name": "Clinic of the open recordings (invented)",
    "contact": {"who": "Front desk (invented)", "urgent": "Your local emergency number"},
    "mains_hz": 50,
    "time_zone": "Europe/Vienna",
}

# An absolute threshold needs no baseline block, and these recordings have none.
ALPHA = {
    "name": "open-alpha",
    "version": 1,
    "title": "Posterior alpha, absolute",
    "purpose": "Show posterior alpha of the open recordings against a fixed line.",
    "practices": ["quiet-rest", "other"],
    "literature": "Alpha at the back of the head falls with mental effort.",
    "conditions": [
        {
            "name": "alpha",
            "where": {"region": "lateraloccipital", "hemisphere": "both"},
            "band_hz": [8, 13],
            "direction": "above",
            "threshold": {"absolute": 200.0},
        }
    ],
}

FAST = {
    **ALPHA,
    "name": "open-fast",
    "title": "A band above 45 Hz",
    "conditions": [
        {
            "name": "fast",
            "where": {"region": "insula", "hemisphere": "right"},
            "band_hz": [46, 60],
            "direction": "above",
            "threshold": {"absolute": 200.0},
        }
    ],
}

MENTAL = [f"Subject{person:02d}_{part}" for person in range(4) for part in (1, 2)]


def sheet(client: str, day: int, practice: str, eyes: str, seconds: int) -> dict:
    """A sheet with one practice block over the whole recording, on an invented day."""
    return {
        "client": client,
        "date": f"2011-01-{day:02d}",
        "practice": practice,
        "protocol": "open-alpha",
        "eyes": eyes,
        "blocks": [{"kind": "practice", "start": 0, "end": seconds}],
    }


def recordings(open_data: Path) -> dict[str, tuple[Path, dict]]:
    """Upload name -> recording and sheet (without the protocol's choice)."""
    found = {}
    for name in MENTAL:
        rest = name.endswith("_1")
        found[name.lower().replace("_", "-")] = (
            open_data / "mental-arithmetic" / f"{name}.edf",
            sheet(
                f"MA{name[7:9]}",
                int(name[-1]),
                "quiet-rest" if rest else "other",
                "closed",
                182 if rest else 62,
            ),
        )
    motor = open_data / "motor-imagery-baseline" / "S001R01.edf"
    found["baseline"] = (motor, sheet("MI01", 1, "quiet-rest", "open", 61))
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
    for name, (recording, one) in recordings(open_data).items():
        upload = root / "inbox" / name
        upload.mkdir(parents=True)
        shutil.copyfile(recording, upload / recording.name)
        asked = {**one, "protocol": "open-fast"} if fast else one
        (upload / "sitting.yaml").write_text(yaml.safe_dump(asked))


if __name__ == "__main__":
    make_open_clinic(Path(sys.argv[1]), Path(sys.argv[2]), fast="--fast" in sys.argv[3:])
