"""Simulated recordings as the replay gets them."""

from functools import cache

import numpy as np

from aftersit.bench.heads import LABEL, template_head
from aftersit.blocks import Block
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.run import Cleaned, clean_recording
from aftersit.electrodes import STANDARD_19
from aftersit.head.measures import RegionMeasures
from aftersit.head.regions import region_measures
from aftersit.protocol import Protocol
from aftersit.quality import Carried, Electrode, Quality
from aftersit.replay.case import Sitting, both_values, make_case, region_matrices, thresholds_of
from aftersit.replay.run import Signal, score
from aftersit.replay.spans import merged
from aftersit.replay.timeline import Timeline
from aftersit.settings import Settings, load_settings
from aftersit.sheet import Practice

MAINS_HZ = 50.0
_V_PER_UV = 1e-6


@cache
def settings() -> Settings:
    """The settings in force."""
    return load_settings(LABEL)


@cache
def regions_of(names: tuple[str, ...]) -> RegionMeasures:
    """Region measures of the template head for these electrodes."""
    return region_measures(template_head(), names, settings().head)


def as_sitting(
    uncleaned_uv: np.ndarray,
    cleaned: Cleaned,
    rate_hz: float,
    blocks: tuple[Block, ...],
    protocol: Protocol,
) -> Sitting:
    """A sitting of all 19 electrodes and what cleaning made of it."""
    good = tuple(cleaned.names)
    return Sitting(
        client="BENCH",
        number=1,
        practice=Practice.OTHER,
        settings=LABEL,
        blocks=blocks,
        quality=cleaned.quality,
        regions=regions_of(good),
        uncleaned_matrices=region_matrices(protocol.conditions, regions_of(STANDARD_19)),
        cleaned=Signal(
            cleaned.data_uv * _V_PER_UV,
            good,
            rate_hz,
            (),
            tuple(merged(cleaned.quality.bad_spans)),
        ),
        uncleaned=Signal(uncleaned_uv * _V_PER_UV, STANDARD_19, rate_hz, mains_hz=MAINS_HZ),
        muscle=settings().clean.muscle,
        eye_below_hz=settings().clean.components.eye_below_hz,
    )


def cleaned_of(raw) -> Cleaned:
    """Clean a recording as a night would."""
    chosen = settings()
    return clean_recording(raw, ChannelLimits(), MAINS_HZ, chosen.clean, chosen.seed)


def timelines(sitting: Sitting, protocol: Protocol) -> dict[str, Timeline]:
    """Both replays without what they tell; empty where the sitting can't be scored."""
    case = make_case(sitting, protocol, settings().replay)
    if case.refused or not sitting.quality.scorable:
        return {}
    values = both_values(case)
    limits = {name: thresholds_of(case, found) for name, found in values.items()}
    return {
        name: score(found, protocol, case.running, sitting.blocks, limits[name])
        for name, found in values.items()
    }


def untouched(signal_uv: np.ndarray, rate_hz: float) -> Cleaned:
    """A signal of all 19 electrodes that needs no cleaning."""
    duration_s = signal_uv.shape[1] / rate_hz
    quality = Quality(
        rate_hz=rate_hz,
        duration_s=duration_s,
        mains_hz=None,
        carried=Carried(low_hz=0.5, high_hz=0.45 * rate_hz),
        electrodes=tuple(Electrode(name=n, good=True) for n in STANDARD_19),
        bad_spans=(),
        components=(),
        keep=(),
        muscle=(),
        eyes=(),
        usable_s=duration_s,
        scorable=True,
    )
    return Cleaned(signal_uv - signal_uv.mean(axis=0), list(STANDARD_19), quality)


def protocol_of(*conditions: dict, **more: object) -> Protocol:
    """A protocol of the bench."""
    return Protocol.model_validate(
        {
            "name": "bench",
            "version": 1,
            "title": "Bench",
            "purpose": "To be measured.",
            "practices": ["other"],
            "literature": "None.",
            "conditions": list(conditions),
            **more,
        }
    )
