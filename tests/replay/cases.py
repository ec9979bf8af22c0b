"""Small sittings for the replay's tests: five electrodes, noise, fake region matrices."""

import numpy as np

from aftersit.bench.fake_measures import fake_measures
from aftersit.blocks import Block
from aftersit.head.measures import RegionMeasures
from aftersit.protocol import Protocol
from aftersit.quality import BadSpan, Carried, Electrode, Quality
from aftersit.replay.case import Sitting
from aftersit.replay.run import Signal
from aftersit.replay.settings import DrowsySettings, ReplaySettings
from aftersit.replay.sitting import Replayed, replay_sitting
from aftersit.replay.spans import merged
from aftersit.settings import load_settings
from aftersit.sheet import Kind, Practice

NAMES = ("Fp1", "T7", "Cz", "T8", "O2")
KEYS = ("insula-right", "precuneus-both")
RATE_HZ = 128.0
DROWSY = DrowsySettings(
    window_s=10,
    level_share=0.3,
    level_min_s=40,
    alpha_out_db=3,
    theta_up_db=2,
    together_db=6,
    rolls_db=5,
    alpha_stands_db=3.5,
    shortest_s=12,
    bridge_s=7,
    looked_min_s=25,
    looked_min_share=0.4,
)
SETTINGS = ReplaySettings(
    filter_order=4,
    settle_energy=0.99,
    notch_quality=30,
    notch_heard_db=-40,
    baseline_min_s=5,
    baseline_short_s=15,
    few_electrodes=4,
    insight=load_settings("s1").replay.insight.model_copy(
        update={"segment_s": 2, "segments_min": 6, "share_cosines": 5}
    ),
    drowsy=DROWSY,
)


def regions(names=NAMES, seed=8) -> RegionMeasures:
    """Random region matrices, as the mean square of 30 random filters."""
    return fake_measures(names, seed)


def noise(seconds, seed=3, rate_hz=RATE_HZ, n=5) -> np.ndarray:
    """White noise of 10 uV, in volts."""
    return np.random.default_rng(seed).normal(size=(n, round(seconds * rate_hz))) * 1e-5


def condition(
    name="alpha", where=None, band=(8, 13), direction="above", relative=None, **threshold
) -> dict:
    where = where or {"region": "precuneus"}
    threshold = threshold or {"db_over_baseline": 0.5}
    return {
        "name": name,
        "where": where,
        "band_hz": list(band),
        "relative_to_hz": relative,
        "direction": direction,
        "threshold": threshold,
    }


TWO = (
    condition("alpha", db_over_baseline=-0.5),
    condition("temples", {"electrodes": ["T7", "T8"]}, (20, 30), "below", db_over_baseline=0.7),
)


def protocol(*conditions, name="calm-sea", combine="all", gate=None, **timing) -> Protocol:
    timing = {"smoothing_s": 0.5, "update_s": 0.125, "onset_s": 0.25, "release_s": 0.25, **timing}
    return Protocol.model_validate(
        {
            "name": name,
            "version": 2,
            "title": "Calm sea",
            "purpose": "For tests.",
            "practices": ["open-monitoring"],
            "literature": "None.",
            "conditions": list(conditions or (condition(),)),
            "combine": combine,
            "artefact_gate": gate,
            "timing": timing,
        }
    )


def block(index, kind, start, stop, eyes="closed", of="calm-sea") -> Block:
    return Block(index, Kind(kind), start, stop, eyes, of)


BLOCKS = (
    block(1, "baseline", 0, 20),
    block(2, "practice", 20, 44.05),
    block(3, "break", 44.05, 50),
    block(4, "practice", 50, 79.9),
)


def quality(names=NAMES, bad=(), spans=(), high_hz=60.0, duration_s=80.0, scorable=True, **more):
    return Quality(
        rate_hz=RATE_HZ,
        duration_s=duration_s,
        mains_hz=50,
        carried=Carried(low_hz=1, high_hz=high_hz),
        electrodes=[
            Electrode(name=n, good=n not in bad, reasons=("noisy",) if n in bad else ())
            for n in names
        ],
        bad_spans=[BadSpan(start_s=a, stop_s=b, reason=why) for a, b, why in spans],
        components=(),
        keep=(),
        muscle=(),
        eyes=(),
        usable_s=70,
        scorable=scorable,
        **more,
    )


def sitting(samples=None, blocks=BLOCKS, found=None, scale=1.0) -> Sitting:
    samples = (noise(80) if samples is None else samples) * scale
    found = found or quality(duration_s=samples.shape[1] / RATE_HZ)
    measures = regions()
    return Sitting(
        client="K07",
        number=3,
        practice=Practice.OPEN_MONITORING,
        settings="s1",
        blocks=tuple(blocks),
        quality=found,
        regions=measures,
        uncleaned_matrices={key: measures.matrix(key) for key in KEYS}
        | {f"{key}/selective": measures.matrix(key, "selective") for key in KEYS},
        cleaned=Signal(samples, NAMES, RATE_HZ, (), tuple(merged(found.bad_spans))),
        uncleaned=Signal(samples, NAMES, RATE_HZ),
    )


def replay(of: Sitting, rules: Protocol, chosen: ReplaySettings = SETTINGS) -> Replayed:
    """Run a protocol over a sitting."""
    return replay_sitting(of, rules, chosen, seed=20260301)
