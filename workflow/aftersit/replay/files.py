"""The edge of the replay: read a sitting's files, write its record and timelines."""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from aftersit.blocks import from_events, rewards_from_events
from aftersit.errors import AftersitError
from aftersit.files import write_json
from aftersit.head.crossfile import load_cross
from aftersit.head.measures import RegionMeasures, load_region_measures
from aftersit.protocol import ElectrodePlace, Protocol
from aftersit.quality import read_quality
from aftersit.record import ConditionEvidence, Record
from aftersit.replay.case import Sitting, region_matrices
from aftersit.replay.evidence import evidence
from aftersit.replay.on_disk import Shelf, SignalOnDisk
from aftersit.replay.run import Signal
from aftersit.replay.sitting import Replayed, replay_sitting
from aftersit.replay.spans import merged
from aftersit.replay.timeline import write_timeline
from aftersit.settings import Settings
from aftersit.sheet import Practice

_DIGITS = 9
# Marks of interrupted recordings, as mne names them when it reads BrainVision.
_GAP_MARKS = ("New Segment/", "EDGE boundary", "BAD boundary")


@dataclass(frozen=True)
class Inputs:
    """Files that one replay reads; what lies beside them is found by its name."""

    raw: Path
    """Raw BIDS header, `*_eeg.vhdr`, with `_eeg.json` and `_events.tsv` beside."""
    clean: Path
    """Cleaned header, `*_desc-clean_eeg.vhdr`, with `_eeg.json` beside."""
    regions: Path
    """`*_regions.npz`: region measures of the good electrodes."""
    head: Path
    """`head.npz`: for the electrodes of the uncleaned replay."""
    cross: Path
    """`*_cross.npz`: cross-spectra of the cleaned blocks."""


def replay_files(inputs: Inputs, protocol: Protocol, label: str, settings: Settings) -> Replayed:
    """Replay one sitting from its files; see `replay_sitting`.

    Parameters
    ----------
    label : str
        Label of the settings version.

    Raises
    ------
    AftersitError
        A file that is missing, or files that do not belong together.
    """
    client, number = _entities(inputs.raw)
    quality = read_quality(_beside(inputs.clean, ".json"))
    regions = load_region_measures(inputs.regions)
    if list(regions.good) != quality.good:
        raise AftersitError(
            f"{inputs.regions.name} is for the electrodes {', '.join(regions.good)}, but "
            f"{', '.join(quality.good)} served in {inputs.clean.name}; measure the regions again"
        )
    shelf = Shelf()
    cleaned = read_signal(inputs.clean, quality.good, shelf, merged(quality.bad_spans))
    uncleaned = read_signal(inputs.raw, [e.name for e in quality.electrodes], shelf)
    sidecar = json.loads(_beside(inputs.raw, ".json").read_text())
    uncleaned = replace(uncleaned, mains_hz=_mains_hz(sidecar))
    sitting = Sitting(
        client=client,
        number=number,
        practice=Practice(sidecar["Practice"]),
        settings=label,
        blocks=tuple(from_events(_events(inputs.raw))),
        quality=quality,
        regions=regions,
        uncleaned_matrices=_matrices(protocol, inputs.head, uncleaned.names, regions, settings),
        cleaned=cleaned,
        uncleaned=uncleaned,
        rewards_logged=rewards_from_events(_events(inputs.raw)),
        muscle=settings.clean.muscle,
        eye_below_hz=settings.clean.components.eye_below_hz,
    )
    replayed = replay_sitting(sitting, protocol, settings.replay, settings.seed)
    beside = _evidence(inputs.cross, sitting, protocol, settings)
    record = replayed.record.model_copy(update={"evidence": beside})
    return replace(replayed, record=record)


def _evidence(
    cross: Path, sitting: Sitting, protocol: Protocol, settings: Settings
) -> tuple[ConditionEvidence, ...]:
    spectra, good = load_cross(cross)
    if good != sitting.regions.good:
        raise AftersitError(f"{cross.name} is for other electrodes; measure the regions again")
    return evidence(
        protocol.conditions,
        sitting.blocks,
        spectra,
        sitting.regions,
        sitting.cleaned,
        sitting.quality.carried,
        settings.head.aperiodic,
        settings.replay.insight,
    )


def read_signal(
    vhdr: Path,
    wanted: Sequence[str],
    shelf: Shelf,
    bad_spans: Sequence[tuple[float, float]] = (),
) -> Signal:
    """The wanted electrodes that a BrainVision file has, in the order wanted."""
    import mne

    if not vhdr.is_file():
        raise AftersitError(f"{vhdr.name} is missing in {vhdr.parent.name}/")
    raw = mne.io.read_raw_brainvision(vhdr, verbose="ERROR")
    names = tuple(name for name in wanted if name in raw.ch_names)
    marks = zip(raw.annotations.onset, raw.annotations.description, strict=True)
    gaps = tuple(float(t) for t, text in marks if t > 0 and text.startswith(_GAP_MARKS))
    rate_hz = float(raw.info["sfreq"])
    return SignalOnDisk(None, names, rate_hz, gaps, tuple(bad_spans), vhdr=vhdr, shelf=shelf)


def _mains_hz(sidecar: dict) -> float | None:
    """Mains frequency as sheet and clinic expect it: nothing is learnt from the signal."""
    found = sidecar.get("PowerLineFrequency")
    return float(found) if isinstance(found, int | float) else None


def _matrices(
    protocol: Protocol,
    head: Path,
    names: tuple[str, ...],
    regions: RegionMeasures,
    settings: Settings,
) -> dict[str, np.ndarray]:
    """Region matrices over the electrodes of the uncleaned replay."""
    here = region_matrices(protocol.conditions, regions)
    if names == regions.good or not here:
        return here
    from aftersit.head.model import load_head
    from aftersit.head.regions import matrix_for

    model = load_head(head)
    places = {c.where for c in protocol.conditions if not isinstance(c.where, ElectrodePlace)}
    return {
        p.measure_key: matrix_for(model, names, p.key, settings.head, p.measure, regions.regions)
        for p in places
        if p.measure_key in here
    }


def _entities(raw: Path) -> tuple[str, int]:
    match = re.match(r"sub-([A-Za-z0-9]+)_ses-(\d+)_", raw.name)
    if not match:
        raise AftersitError(f"{raw.name} is not named sub-<client>_ses-<number>_..._eeg.vhdr")
    return match[1], int(match[2])


def _beside(vhdr: Path, ending: str) -> Path:
    path = vhdr.with_suffix(ending)
    if not path.is_file():
        raise AftersitError(f"{path.name} is missing beside {vhdr.name}")
    return path


def _events(raw: Path) -> Path:
    path = raw.with_name(raw.name.removesuffix("_eeg.vhdr") + "_events.tsv")
    if not path.is_file():
        raise AftersitError(f"{path.name} is missing beside {raw.name}")
    return path


def write_replayed(replayed: Replayed, folder: Path) -> None:
    """Write `record.json`, `timeline-cleaned.tsv` and `timeline-uncleaned.tsv`."""
    for name, table in replayed.timelines.items():
        write_timeline(table, folder / f"timeline-{name}.tsv")
    write_json(folder / "record.json", plain(replayed.record))


def plain(record: Record) -> dict:
    """The record as plain data, numbers with 9 significant digits."""
    return _rounded(record.model_dump(mode="json"))


def _rounded(value):
    if isinstance(value, float):
        return float(f"{value:.{_DIGITS}g}")
    if isinstance(value, dict):
        return {key: _rounded(inner) for key, inner in value.items()}
    return [_rounded(inner) for inner in value] if isinstance(value, list) else value
