"""Results of a sitting with as many rows as real ones and random numbers, for the bench."""

from pathlib import Path

import numpy as np
import pandas as pd

from aftersit.bench.fake_measures import fake_measures
from aftersit.clinic import Clinic
from aftersit.head.bands import bands
from aftersit.head.bandtable import APERIODIC_COLUMNS, BANDPOWER_COLUMNS
from aftersit.head.measures import UNITS, save_region_measures
from aftersit.head.region_set import RegionSet
from aftersit.night import layout
from aftersit.night.plan import PlannedSitting
from aftersit.quality import Quality, read_quality
from aftersit.record import Drowsiness, ProtocolRef, QualitySummary, Record
from aftersit.replay.files import write_replayed
from aftersit.replay.sitting import Replayed

SEED = 52200
ROWS = 512
"""Of a timeline: 64 s at 8 decisions a second."""


def write_results(clinic: Clinic, one: PlannedSitting, clean: Path) -> None:
    """Tables, measures, record and timelines of one sitting."""
    quality, rng = read_quality(clean.with_suffix(".json")), np.random.default_rng(SEED)
    stem = str(clinic.root / one.place(layout.REGIONS))
    Path(stem).parent.mkdir(parents=True)
    save_region_measures(fake_measures(quality.good, SEED), Path(f"{stem}_regions.npz"))
    for name, table in _tables(quality.good, rng).items():
        table.to_csv(f"{stem}_{name}.tsv", sep="\t", index=False, float_format="%.6g")
    folder = clinic.root / one.replay_folders[0]
    timeline = pd.DataFrame(
        {
            "time_s": np.arange(ROWS) / 8,
            "block": 1,
            "state": "no-reward",
            "deciding": "alpha",
            "swung": 0.0,
            "alpha_value": rng.uniform(1, 9, ROWS),
            "alpha_threshold": 3.0,
            "alpha_met": 0.0,
        }
    )
    both = {"cleaned": timeline, "uncleaned": timeline}
    write_replayed(Replayed(_record(one, quality), both), folder)


def _tables(good: list[str], rng: np.random.Generator) -> dict[str, pd.DataFrame]:
    places = [
        ("region", key, kind, unit) for kind, unit in UNITS.items() for key in RegionSet().keys
    ]
    places += [("electrode", name, "sensor", "uV^2") for name in good]
    powers = [
        [
            1,
            kind,
            place,
            measure,
            b.name,
            b.low_hz,
            b.high_hz,
            *rng.uniform(1, 9, 6),
            unit,
            62.5,
            61,
        ]
        for kind, place, measure, unit in places
        for b in bands()
    ]
    slopes = [[1, *one[:3], *rng.uniform(1, 2, 3), 2.0, 40.0] for one in places]
    spectra = [
        [1, name, f, p]
        for name in good
        for f, p in zip(np.arange(0.5, 60, 0.5), rng.uniform(1, 9, 119), strict=True)
    ]
    columns = ["block", "electrode", "frequency_hz", "psd_uv2_per_hz"]
    return {
        "bandpower": pd.DataFrame(powers, columns=BANDPOWER_COLUMNS),
        "aperiodic": pd.DataFrame(slopes, columns=APERIODIC_COLUMNS),
        "spectra": pd.DataFrame(spectra, columns=columns),
    }


def _record(one: PlannedSitting, quality: Quality) -> Record:
    return Record(
        client=one.client,
        sitting=one.number,
        practice="quiet-rest",
        settings=one.settings,
        protocol=ProtocolRef(name="soft-alpha", version=1),
        status="not-scored",
        reasons=("no-practice-block",),
        quality=QualitySummary(
            rate_hz=quality.rate_hz,
            duration_s=quality.duration_s,
            usable_s=quality.usable_s,
            mains_hz=quality.mains_hz,
            carried_low_hz=quality.carried.low_hz,
            carried_high_hz=quality.carried.high_hz,
            good_electrodes=tuple(quality.good),
            bad_electrodes={},
            components_removed={},
            bad_seconds={},
            bad_seconds_by_block={},
        ),
        drowsiness=Drowsiness(spans=(), blocks=()),
        conditions=(),
        cleaned=None,
        uncleaned=None,
        removed_reward_share=None,
        breaks=(),
    )
