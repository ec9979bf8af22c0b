"""The template head as the simulation sees it, and a small clinic of three short sittings."""

import datetime as dt
import fcntl
from dataclasses import replace
from pathlib import Path

import pytest
import yaml

from aftersit.head.model import Head, build_head, load_head, save_head
from aftersit.head.settings import HeadSettings
from aftersit.plain_yaml import load_plain_yaml
from aftersit.protocol import Protocol
from demo_clinic.make import make_demo
from demo_clinic.scenario import CALM, Block, Faults, Pattern, Sitting
from demo_clinic.sources import Sources

REPOSITORY = Path(__file__).parents[2]

PROTOCOL = {
    "name": "trial",
    "version": 3,
    "title": "Trial",
    "purpose": "Only for tests.",
    "practices": ["focused-attention"],
    "literature": "None.",
    "conditions": [
        {
            "name": "front",
            "where": {"region": "rostralmiddlefrontal", "hemisphere": "left"},
            "band_hz": [14, 20],
            "direction": "above",
            "threshold": {"db_over_baseline": 2.0},
        },
        {
            "name": "back",
            "where": {"electrodes": ["O1", "O2"]},
            "band_hz": [15, 25],
            "direction": "below",
            "threshold": {"db_over_baseline": -1.0},
        },
    ],
}

SHORT = Sitting(
    upload="short-edf",
    client="K07",
    starts=dt.datetime(2026, 2, 3, 9, 34),
    minutes=1.5,
    rate_hz=256,
    file="edf+",
    practice="focused-attention",
    protocol="trial",
    eyes="closed",
    blocks=(
        Block("baseline", "00:00", "00:20", eyes="open"),
        Block("practice", "00:20", "01:20", (Pattern(6, 5),)),
        Block("rest", "01:20", "01:30"),
    ),
    sheet={"notes": "Short."},
    labels="old-clutter",
    annotated=True,
    tension_uv2=CALM,
    faults=Faults(dead="P4", noisy="F8", pops=(("C3", 40.0, 200.0),)),
)

SHORTS = (
    SHORT,
    replace(
        SHORT, upload="short-bdf", file="bdf", labels="clutter", annotated=False, extra=("EOG",)
    ),
    replace(
        SHORT,
        upload="short-brainvision",
        file="brainvision",
        rate_hz=500,
        labels="plain",
        annotated=False,
        extra=("ECG",),
        drowsy=((30.0, 60.0),),
    ),
)


@pytest.fixture(scope="session")
def head(tmp_path_factory, worker_id) -> Head:
    """The file that all test processes share, under the name that the head's tests use too."""
    folder = tmp_path_factory.getbasetemp()
    folder = folder if worker_id == "master" else folder.parent
    path = folder / "head.npz"
    with (folder / "head.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not path.exists():
            section = load_plain_yaml(REPOSITORY / "config" / "settings" / "s1.yaml")["head"]
            save_head(build_head(HeadSettings.checked(section, "s1.yaml")), path)
    return load_head(path)


@pytest.fixture(scope="session")
def sources(head) -> Sources:
    return Sources.of_head(head)


@pytest.fixture(scope="session")
def protocol() -> Protocol:
    return Protocol.checked(PROTOCOL, "trial")


@pytest.fixture(scope="session")
def protocols(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("protocols")
    (folder / "trial").mkdir()
    (folder / "trial" / "v1.yaml").write_text(yaml.safe_dump(PROTOCOL | {"version": 1}))
    return folder


@pytest.fixture(scope="session")
def clinic(tmp_path_factory, head, protocols) -> Path:
    root = tmp_path_factory.mktemp("demo") / "clinic"
    make_demo(root, 11, head, SHORTS, protocols)
    return root
