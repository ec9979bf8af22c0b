"""What the pages of one long sitting cost, as the workflow makes them, and how large they are."""

import datetime as dt
import tempfile
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from aftersit.bench.cost import cost_of
from aftersit.bench.heads import template_head
from aftersit.bench.night_clinic import make_clinic
from aftersit.bench.pages_again import write_again
from aftersit.bench.table import Table
from aftersit.clinic import Clinic, SittingId
from aftersit.errors import AftersitError
from aftersit.night.ledger import Ledger
from aftersit.night.plan import PlannedSitting, planned
from aftersit.night.run import run_night
from aftersit.protocol import load_protocol
from demo_clinic.make import SEED, make_upload
from demo_clinic.sitting import Block, Faults, Pattern, Sitting
from demo_clinic.sources import Sources

REPEATS, QUICK_REPEATS = 5, 1
_ON_OFF = (Pattern(7, 9),)
_TENSE = Pattern(6, 30)

LONG = Sitting(
    upload="mon-0800-k07",
    client="K07",
    starts=dt.datetime(2026, 3, 2, 8, 4),
    minutes=28,
    rate_hz=256,
    file="edf+",
    practice="focused-attention",
    protocol="steady-focus",
    eyes="closed",
    blocks=(
        Block("baseline", "00:00", "02:00"),
        Block("practice", "02:00", "09:00", _ON_OFF, clench=_TENSE, remark="Shoulders were high"),
        Block("break", "09:00", "09:30", remark="Tongue down, jaw loose"),
        Block("practice", "09:30", "15:30", _ON_OFF, clench=_TENSE),
        Block("break", "15:30", "16:00", remark="Asked to feel the breath"),
        Block("practice", "16:00", "22:00", (Pattern(11, 6),)),
        Block("break", "22:00", "22:30", remark="Opened the window"),
        Block("practice", "22:30", "27:30", _ON_OFF),
        Block("rest", "27:30", "28:00"),
    ),
    sheet={
        "instruction": "Count breaths from one to ten",
        "notes": "A long sitting, made for the bench. " * 6,
        "message": "You came back to the breath many times. " * 3,
        "ratings": {"before": {"calm": 4, "awake": 7}, "after": {"calm": 6, "awake": 6}},
    },
    tension_uv2={"jaw-left": 0.6, "jaw-right": 0.5, "brow": 0.5},
    drowsy=((1130.0, 1180.0), (1420.0, 1470.0)),
    faults=Faults(pops=(("P3", 201.0, 180.0), ("C4", 1033.5, -150.0)), movement=((700.0, 706.0),)),
    story="a long sitting with all that pages draw",
)
"""Four practice blocks with breaks, bouts, muscle, drowsy spells and bad spans."""


def tables(quick: bool) -> Iterator[Table]:
    """Costs of the step that writes them, and sizes."""
    with tempfile.TemporaryDirectory() as folder:
        clinic = make_clinic(Path(folder) / "clinic")
        protocol = load_protocol(clinic.protocols, LONG.protocol, 1)
        make_upload(clinic, LONG, protocol, Sources.of_head(template_head()), SEED)
        run_night(clinic, say=lambda line: None)
        one = _only(clinic)
        yield _costs(clinic, one, QUICK_REPEATS if quick else REPEATS)
        yield _sizes(clinic, one)


def _only(clinic: Clinic) -> PlannedSitting:
    entry = Ledger(clinic).read(SittingId(LONG.client, 1))
    if entry is None or not entry.finished:
        raise AftersitError("the bench's sitting was not finished")
    return planned(entry)


def _costs(clinic: Clinic, one: PlannedSitting, repeats: int) -> Table:
    rows = [
        {"run": number, **asdict(cost_of(write_again, clinic.root, one.sitting))}
        for number in range(1, repeats + 1)
    ]
    return Table(
        "cost",
        f"Writing all pages of a sitting of {LONG.minutes:g} minutes",
        rows,
        ("One fresh process a run, its imports included.",),
    )


def _sizes(clinic: Clinic, one: PlannedSitting) -> Table:
    rows = [
        {"page": Path(page).name, "kb": (clinic.root / page).stat().st_size / 1e3}
        for page in one.pages
    ]
    return Table("size", "Sizes of these pages, kB", rows)
