"""A protocol and three short sittings, one of each file format."""

import datetime as dt
from dataclasses import replace

from demo_clinic.scenario import CALM
from demo_clinic.sitting import Block, Faults, Pattern, Sitting

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
