"""Which rules run after a change, how often, and what they cost, on sittings of real nights."""

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from resource import RUSAGE_CHILDREN, RUSAGE_SELF, getrusage

import yaml

from aftersit.bench.night_clinic import CLINIC
from aftersit.bench.table import Table
from aftersit.change.new_version import new_protocol_version, new_settings_version
from aftersit.change.replay import replay
from aftersit.change.select import Request
from aftersit.clinic import Clinic
from aftersit.night.ledger import Ledger
from aftersit.night.run import run_night
from aftersit.protocol import load_protocol, protocol_path

REPOSITORY = Path(__file__).parents[3]
DEMO = REPOSITORY / "demo"
_RULES = ("write_bids", "clean_recording", "measure_regions", "replay_protocol", "write_pages")
_OPEN = ("Subject00_1", "Subject01_1", "Subject02_1", "Subject03_1")
_ALPHA = {
    "name": "alpha",
    "where": {"region": "lateraloccipital"},
    "band_hz": [8, 13],
    "direction": "above",
    "threshold": {"absolute": 200.0},
}


@dataclass(frozen=True)
class Changed:
    """One kind of change to every condition of a protocol; None is a change of settings."""

    name: str
    edit: Callable[[dict], dict] | None


def _threshold(condition: dict) -> dict:
    [(rule, value)] = condition["threshold"].items()
    known = {"absolute": lambda v: 1.2 * v, "db_over_baseline": lambda v: v + 0.5}
    return condition | {"threshold": {rule: known[rule](value)}} if rule in known else condition


def _band(condition: dict) -> dict:
    low, high = condition["band_hz"]
    return condition | {"band_hz": [low + 0.5, high - 0.5]}


def _region(condition: dict) -> dict:
    if "region" not in condition["where"]:
        return condition
    return condition | {"where": condition["where"] | {"region": "precuneus"}}


CHANGES = (
    Changed("threshold rule", _threshold),
    Changed("band", _band),
    Changed("region", _region),
    Changed("a cleaning setting", None),
)


def rules_tables(quick: bool) -> Iterator[Table]:
    """One table for each clinic that there is: the demo, and the open recordings."""
    if (DEMO / ".aftersit" / "ledger").is_dir():
        yield _table("demo", Clinic(DEMO), quick)
    data = Path(os.environ.get("AFTERSIT_OPEN_DATA", REPOSITORY.parent / "shared" / "data"))
    if (data / "mental-arithmetic").is_dir():
        with tempfile.TemporaryDirectory() as folder:
            clinic = _open_clinic(data, Path(folder) / "open", 1 if quick else len(_OPEN))
            yield _table("open", clinic, quick)


def _table(name: str, clinic: Clinic, quick: bool) -> Table:
    rows = [_row(clinic, change) for change in (CHANGES[:1] if quick else CHANGES)]
    return Table(
        f"rules-{name}",
        f"Rules that ran after a change, and processor seconds ({name} recordings)",
        rows,
        (
            "`replay --try`, so without pages; the newest protocol of the first sitting, or all "
            "for settings. Seconds include starting the command, Snakemake and each step.",
        ),
    )


def _row(source: Clinic, change: Changed) -> dict:
    with tempfile.TemporaryDirectory() as folder:
        clinic = Clinic(Path(shutil.copytree(source.root, Path(folder) / "clinic")))
        request = _changed(clinic, change)
        before = _cpu_s()
        done = replay(clinic, request, lambda _: None)
        spent_s = _cpu_s() - before
    ran = {rule: done.rules.get(rule, 0) for rule in _RULES}
    models = sum(done.rules.get(rule, 0) for rule in ("build_head", "draw_heads"))
    return {"change": change.name, **ran, "models": models, "cpu_s": round(spent_s, 1)}


def _changed(clinic: Clinic, change: Changed) -> Request:
    if change.edit is None:
        new_settings_version(clinic, "s1")
        path = next(p for p in clinic.own_settings.glob("s*.yaml") if "." not in p.stem)
        path.write_text(path.read_text().replace("high_pass_hz: 0.5", "high_pass_hz: 0.7"))
        return Request(settings=path.stem, only_try=True)
    name = max(name for e in Ledger(clinic).entries()[:1] for name in e.protocols)
    new_protocol_version(clinic, name)
    path = protocol_path(clinic.protocols, name, 2)
    said = load_protocol(clinic.protocols, name, 2).model_dump(mode="json", exclude_none=True)
    said["conditions"] = [change.edit(c) for c in said["conditions"]]
    path.write_text(yaml.safe_dump(said, sort_keys=False))
    return Request(protocol=name, version=2, only_try=True)


def _cpu_s() -> float:
    both = [getrusage(who) for who in (RUSAGE_SELF, RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in both)


def _open_clinic(data: Path, root: Path, count: int) -> Clinic:
    """A night over some of the open rest recordings."""
    clinic = Clinic(root)
    said = {"name": "open-alpha", "version": 1, "title": "Alpha", "purpose": "For the bench."}
    said |= {"practices": ["quiet-rest"], "literature": "None.", "conditions": [_ALPHA]}
    path = protocol_path(clinic.protocols, "open-alpha", 1)
    path.parent.mkdir(parents=True)
    path.write_text(yaml.safe_dump(said))
    clinic.settings_file.write_text(yaml.safe_dump(CLINIC))
    for number, name in enumerate(_OPEN[:count], 1):
        upload = clinic.inbox / name
        upload.mkdir(parents=True)
        shutil.copyfile(data / "mental-arithmetic" / f"{name}.edf", upload / "r.edf")
        sheet = {"client": f"MA{number:02d}", "date": "2011-01-03", "practice": "quiet-rest"}
        sheet |= {"protocol": "open-alpha", "eyes": "closed"}
        sheet |= {"blocks": [{"kind": "practice", "start": 0, "end": 180}]}
        (upload / "sitting.yaml").write_text(yaml.safe_dump(sheet))
    run_night(clinic, lambda _: None)
    return clinic
