"""Invented sittings for tests of pages: an invented clinic, simulated values, no person behind."""

import base64
import dataclasses
import datetime as dt

from sample_given import CLINIC, SHEET, protocol, quality, sheet
from sample_records import condition_results, record, replayed
from sample_tables import bandpower, spectra

from aftersit.bench.fake_measures import fake_measures
from aftersit.blocks import resolve
from aftersit.clinic import ClinicSettings
from aftersit.pages.inputs import Replayed, SittingInputs, Source
from aftersit.pages.review import Reviewed
from aftersit.settings import load_settings

PICTURE = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAMAAAACCAAAAAC4HznGAAAAEElEQVR42mOQi5rGYFNxCQAIWgKVRt4jWgAAAABJRU5E"
    "rkJggg=="
)
"""A grey image of three by two pixels."""


def scored(**changes) -> SittingInputs:
    """A sitting that was scored, with a break after which the insula's gamma rose."""
    used, found, told = protocol(), quality(), sheet()
    blocks = tuple(resolve(told, told.blocks))
    inputs = SittingInputs(
        replays=(replayed(used, found, blocks),),
        quality=found,
        sheet=told,
        blocks=blocks,
        clinic=ClinicSettings.checked(CLINIC, "sample clinic"),
        settings=load_settings("s1"),
        date=dt.date(2026, 3, 14),
        bandpower=bandpower(blocks),
        spectra=spectra(blocks),
        regions=fake_measures(found.good),
        pictures={"insula-right": PICTURE},
        software={"aftersit": "0.1.0", "mne": "1.12.1", "scipy": "1.17.0"},
        sources=(Source("sitting sheet", "ab" * 32), Source("record", "cd" * 32)),
    )
    return dataclasses.replace(inputs, **changes)


def reviewed() -> SittingInputs:
    return scored(review=Reviewed("DR2", dt.date(2026, 3, 16)))


def out_of_reach() -> SittingInputs:
    """One condition never came near its threshold; nothing was rewarded."""
    base = scored()
    levels = ((-14.0, -13.0), (0.9, 1.3), (2.5, 3.0))
    replay = replayed(protocol(), base.quality, base.blocks, levels)
    nothing = replay.record.model_copy(update={"removed_reward_share": None})
    return dataclasses.replace(base, replays=(dataclasses.replace(replay, record=nothing),))


def not_scored() -> SittingInputs:
    """Too few electrodes and seconds."""
    found = quality(
        scorable=False, unusable=("too-few-electrodes", "too-few-seconds"), usable_s=41.0
    )
    replay = Replayed(
        record(
            protocol(),
            found,
            status="not-scored",
            reasons=("too-few-electrodes", "too-few-seconds"),
        ),
        protocol(),
    )
    return scored(replays=(replay,), quality=found)


def refused() -> SittingInputs:
    """A condition's band is not in the recording."""
    found = quality(carried={"low_hz": 1.0, "high_hz": 40.0, "notches_hz": []})
    conditions = condition_results(protocol(), {"insula-gamma": "band-not-in-recording"})
    replay = Replayed(
        record(
            protocol(),
            found,
            status="not-scored",
            reasons=("a-condition-refused",),
            conditions=conditions,
        ),
        protocol(),
    )
    return scored(replays=(replay,), quality=found)


def two_protocols() -> SittingInputs:
    """A scored protocol and one that was refused in the same sitting."""
    return scored(replays=(*scored().replays, *refused().replays))


HOSTILE = (
    "</style><script>window.leak=1</script><img src=x onerror=leak()> {{ 7*7 }} {% raw %} "
    "javascript:leak() ]]> & \" ' https://evil.invalid/x.png \u202eright to left\u202c 🌿 "
)


def hostile() -> SittingInputs:
    """Every free text of the sheet tries to break out."""
    rows = [{**b, "remark": HOSTILE, "instruction": HOSTILE} for b in SHEET["blocks"]]
    told = sheet(notes=HOSTILE * 20, message=HOSTILE, instruction=HOSTILE, blocks=rows)
    clinic = ClinicSettings.checked({**CLINIC, "name": HOSTILE[:100]}, "sample clinic")
    return scored(sheet=told, clinic=clinic)
