"""The template head as the simulation sees it, and a small clinic of three short sittings."""

import fcntl
from pathlib import Path

import pytest
import yaml
from short_sittings import PROTOCOL, SHORTS

from aftersit.head.model import Head, build_head, load_head, save_head
from aftersit.head.settings import HeadSettings
from aftersit.plain_yaml import load_plain_yaml
from aftersit.protocol import Protocol
from demo_clinic.make import make_demo
from demo_clinic.sources import Sources

REPOSITORY = Path(__file__).parents[2]


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
