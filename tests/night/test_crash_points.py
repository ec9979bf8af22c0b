"""A crash before any single change of the file system costs nothing and shows nowhere.

The kernel does each of these calls wholly or not at all; dying before the n-th, for
every n, goes through all states in which a kill can leave the disk between them.
"""

import os
import shutil
from pathlib import Path

import pytest
import yaml
from crash import dies_at
from quick_nights import findings_of, without_waiting
from uploads import SHEET, make_clinic, make_upload

from aftersit.clinic import Clinic
from aftersit.night.contents import contents
from aftersit.night.kept_protocols import keep_protocols
from aftersit.night.kept_settings import keep_settings
from aftersit.night.ledger import Ledger
from aftersit.night.register import Register
from aftersit.night.retry import send_again
from aftersit.night.session import at_work
from aftersit.night.unreported import Unreported

MOST = 400


def receive(clinic: Clinic, findings: dict | None = None):
    with at_work(clinic):
        return without_waiting(clinic, findings).receive()


GROWING = (".aftersit/register.jsonl", ".aftersit/unreported.jsonl")
"""Files in which a thing may stand twice after a crash; what they say is compared."""


def state(clinic: Clinic) -> dict:
    """Everything that must not depend on crashes."""
    found = {"files": {n: c for n, c in contents(clinic.root).items() if n not in GROWING}}
    found["holdings"] = Register(clinic).holdings()
    found["arrivals"] = Unreported(clinic).arrivals()
    found["ledger"] = Ledger(clinic).entries()
    return found


def differences(one: dict, two: dict) -> list:
    """What is not the same, short enough to read."""
    files = [sorted(set(one["files"].items()) ^ set(two["files"].items()))]
    others = [(one[key], two[key]) for key in one if key != "files" and one[key] != two[key]]
    return [x for x in (*files, *others) if x]


@pytest.fixture(autouse=True)
def _no_waiting_for_disks(monkeypatch):
    """A kill loses nothing that the kernel has; only a power cut would."""
    monkeypatch.setattr(os, "fsync", lambda descriptor: None)


@pytest.fixture(scope="module")
def before(tmp_path_factory) -> tuple[Path, dict]:
    """A clinic that has one sitting and gets five more uploads, and what intake says of each."""
    root = make_clinic(tmp_path_factory.mktemp("crash") / "clinic")
    clinic = Clinic(root)
    make_upload(clinic.inbox / "first", 1)
    receive(clinic)
    make_upload(clinic.inbox / "new", 2)
    make_upload(clinic.inbox / "same", 1)
    make_upload(clinic.inbox / "sheet", 1, eyes="open")
    make_upload(clinic.inbox / "bad", 3, practise="x")
    (clinic.inbox / "stray.edf").write_bytes(b"0")
    return root, findings_of(clinic)


def through_all_crashes(template: Path, folder: Path, work, again):
    """Kill `work` at each of its changes, do it again, and give the clinic as it is then."""
    for number in range(1, MOST):
        root = folder / f"c{number}"
        shutil.copytree(template, root, symlinks=True)
        died = dies_at(number, lambda root=root: work(Clinic(root)))
        again(Clinic(root))
        yield number, Clinic(root)
        shutil.rmtree(root)
        if not died:
            return
    raise AssertionError(f"more than {MOST} changes")


@pytest.mark.slow
def test_receiving(before, tmp_path):
    template, findings = before
    shutil.copytree(template, tmp_path / "calm")
    calm = Clinic(tmp_path / "calm")
    receive(calm, findings)
    undisturbed = state(calm)
    assert {e.sitting.label: len(e.revisions) for e in undisturbed["ledger"]} == {"01": 2, "02": 1}
    assert sorted(p.name for p in calm.set_aside.iterdir()) == ["bad", "stray.edf"]

    def work(clinic):
        receive(clinic, findings)

    crashes = 0
    for number, clinic in through_all_crashes(template, tmp_path, work, work):
        assert differences(state(clinic), undisturbed) == [], f"crash before change {number}"
        crashes = number
    assert crashes > 60


def test_retrying(before, tmp_path):
    template, findings = before
    shutil.copytree(template, tmp_path / "set-aside")
    start = Clinic(tmp_path / "set-aside")
    receive(start, findings)
    (start.set_aside / "bad" / "sitting.yaml").write_text(yaml.safe_dump(SHEET))
    shutil.copytree(start.root, tmp_path / "calm")
    send_again(Clinic(tmp_path / "calm"), "bad")
    undisturbed = state(Clinic(tmp_path / "calm"))

    def again(clinic):
        if (clinic.set_aside / "bad").exists():
            send_again(clinic, "bad")
        else:
            with at_work(clinic):
                pass

    for number, clinic in through_all_crashes(
        start.root, tmp_path, lambda c: send_again(c, "bad"), again
    ):
        assert differences(state(clinic), undisturbed) == [], f"crash before change {number}"


def test_keeping_settings_and_protocols(tmp_path):
    template = make_clinic(tmp_path / "template")
    (template / "regions.yaml").write_text("unions: {two: [insula, precuneus]}\n")

    def work(clinic):
        with at_work(clinic):
            keep_settings(clinic, "s1", Register(clinic))
            keep_protocols(clinic, {"soft-alpha": 1}, Register(clinic))

    def kept(clinic):
        copies = [*clinic.kept_settings.glob("*"), *clinic.kept_protocols.glob("*/*")]
        times = {c.name: (c.stat().st_mode & 0o777, c.stat().st_mtime) for c in copies}
        times["v1.yaml"] = times["v1.yaml"][:1]  # only settings get a time of their own
        return state(clinic), times

    shutil.copytree(template, tmp_path / "calm")
    work(Clinic(tmp_path / "calm"))
    undisturbed = kept(Clinic(tmp_path / "calm"))
    assert undisturbed[1] == {
        "s1.yaml": (0o400, 946684800.0),  # 2000-01-01T00:00Z, `date -d @946684800`
        "s1.regions.yaml": (0o400, 946684800.0),
        "v1.yaml": (0o400,),
    }
    assert len(undisturbed[0]["holdings"]) == 3
    for number, clinic in through_all_crashes(template, tmp_path, work, work):
        assert kept(clinic) == undisturbed, f"crash before change {number}"
