"""EEG files of one sitting as a partner gets them: raw, and cleaned."""

import re
from collections.abc import Callable, Mapping
from pathlib import Path

from pydantic import ValidationError

from aftersit.archive import scrub
from aftersit.archive.dictionaries import sentences
from aftersit.archive.place import CLEANED, RAW, Going, copy_bytes
from aftersit.bids.sidecars import EVENT_LEVELS, task_description
from aftersit.bids.tables import CHANNEL_COLUMNS, DESCRIPTIONS
from aftersit.clean.files import LEVELS as BAD_LEVELS
from aftersit.clinic import TASK
from aftersit.electrodes import references_in_words
from aftersit.files import as_json
from aftersit.night import layout
from aftersit.quality import Quality
from aftersit.sheet import Practice

SAMPLE_BYTES = 4
"""Both recordings are stored as single precision."""
_PRACTICES = [p.value for p in Practice]
_COUNTS = ("EEG", "ECG", "EOG", "EMG", "Misc", "Trigger")


def _is_filters(value: object) -> bool:
    """Filters as numbers, under names that are ours."""
    if not isinstance(value, dict):
        return value == "n/a"
    keys = {
        "CutoffHz",
        "CentreHz",
        "Kind",
        "WindowSeconds",
        "HighPass",
        "LowPass",
        "Notch",
        "Mains",
    }
    return all(k in keys and _is_filter(k, v) for k, v in value.items())


def _is_filter(key: str, value: object) -> bool:
    if isinstance(value, list):
        return all(map(scrub.is_number, value))
    if key == "Kind":
        return value in sentences()["filters"]
    return _is_filters(value) if isinstance(value, dict) else scrub.is_number(value)


def _is_quality(value: object) -> bool:
    """The account of cleaning, and nothing beside it: its model is closed."""
    try:
        Quality.model_validate(value)
    except ValidationError:
        return False
    return True


_SHARED: dict[str, Callable[[object], bool]] = {
    "TaskName": scrub.one_of([TASK]),
    "TaskDescription": scrub.one_of([task_description(p) for p in Practice]),
    "Practice": scrub.one_of(_PRACTICES),
    "EEGGround": scrub.one_of(["n/a"]),
    "EEGPlacementScheme": scrub.one_of(["10-20"]),
    "SamplingFrequency": scrub.is_number,
    "PowerLineFrequency": scrub.one_of([50, 60, "n/a"]),
    "SoftwareFilters": _is_filters,
    "HardwareFilters": _is_filters,
    "RecordingDuration": scrub.is_number,
    "RecordingType": scrub.one_of(["continuous"]),
    **{f"{kind}ChannelCount": scrub.is_number for kind in _COUNTS},
}
_RAW_KEYS = {**_SHARED, "EEGReference": lambda value: value in references_in_words()}
_CLEANED_KEYS = {
    **_SHARED,
    "EEGReference": scrub.one_of([sentences()["reference"]]),
    "Quality": _is_quality,
}
_REFERENCE = re.compile("|".join(re.escape(r) for r in sorted(references_in_words())) + "|average")
_CHANNELS: dict[str, re.Pattern] = {
    **dict.fromkeys(CHANNEL_COLUMNS, scrub.NUMBER),
    "name": scrub.CHANNEL,
    "type": scrub.words(*DESCRIPTIONS),
    "units": scrub.words("µV"),
    "description": scrub.words(*DESCRIPTIONS.values()),
    "reference": _REFERENCE,
    "notch": re.compile(r"\[[\d., ]+\]|" + scrub.NUMBER.pattern),
    "status": scrub.words("good", "bad"),
    "status_description": scrub.words("flat"),
}
_EVENTS: dict[str, re.Pattern] = {
    "onset": scrub.NUMBER,
    "duration": scrub.NUMBER,
    "trial_type": scrub.words(*EVENT_LEVELS, *BAD_LEVELS),
    "block": scrub.NUMBER,
    "eyes": scrub.words("open", "closed"),
    "protocol": scrub.NAME,
    "electrodes": re.compile(rf"({scrub.CHANNEL.pattern})(,({scrub.CHANNEL.pattern}))*|n/a"),
}
_PLACES = {"name": scrub.CHANNEL, **dict.fromkeys("xyz", scrub.NUMBER)}
_SYSTEM = {
    "AnatomicalLandmarkCoordinateSystem": scrub.one_of(["CapTrak"]),
    "AnatomicalLandmarkCoordinateUnits": scrub.one_of(["m"]),
    "AnatomicalLandmarkCoordinates": lambda v: set(v) <= {"LPA", "NAS", "RPA"},
    "EEGCoordinateSystem": scrub.one_of(["CapTrak"]),
    "EEGCoordinateUnits": scrub.one_of(["m"]),
}


def write_raw(going: Going) -> None:
    """The recording as BIDS allows it, with its tables and template positions."""
    source = going.chosen.path(going.clinic, layout.RAW, "_eeg.vhdr")
    stem = source.name.removesuffix("_eeg.vhdr")
    folder = going.folder(RAW, "eeg")
    more = {"Instructions": sentences()["instructions"], "SubjectArtefactDescription": "n/a"}
    known = _write_recording(going, source, folder / f"{going.stem}_eeg.vhdr", _RAW_KEYS, more)
    known |= {f"{stem}_{name}" for name in ("channels.tsv", "events.tsv", "events.json")}
    known |= _write_positions(going, source.parent, folder)
    going.copy_others(source.parent, folder, known)


def write_cleaned(going: Going) -> None:
    """The cleaned recording, its bad spans and the account of cleaning."""
    source = going.chosen.path(going.clinic, layout.CLEAN, "_eeg.vhdr")
    stem = source.name.removesuffix("_eeg.vhdr")
    folder = going.folder(CLEANED, "eeg")
    target = folder / f"{going.stem}_desc-clean_eeg.vhdr"
    raw = f"sub-{going.subject}/ses-{going.session}/eeg/{going.stem}_eeg.vhdr"
    more = {"Sources": [f"bids:raw:{raw}"], "Description": sentences()["cleaned"]}
    known = _write_recording(going, source, target, _CLEANED_KEYS, more)
    known |= {f"{stem}_{name}" for name in ("channels.tsv", "events.tsv", "events.json")}
    going.copy_others(source.parent, folder, known)


def _write_recording(
    going: Going,
    source: Path,
    target: Path,
    keys: Mapping[str, Callable[[object], bool]],
    more: dict,
) -> set[str]:
    """Header, markers, samples, sidecar and tables; returns the names that were read."""
    header = scrub.header(source.read_text(), target.stem, going.scrub)
    target.write_text(header)
    vmrk = source.with_suffix(".vmrk").read_text()
    target.with_suffix(".vmrk").write_text(scrub.markers(vmrk, target.stem, going.scrub))
    signal = source.with_suffix(".eeg")
    channels = len(re.findall(r"(?m)^Ch\d+=", header))
    size = scrub.signal_bytes(channels, SAMPLE_BYTES, signal.stat().st_size, going.scrub)
    copy_bytes(signal, target.with_suffix(".eeg"), size)
    found = scrub.sidecar(source.with_suffix(".json").read_text(), keys, going.scrub)
    target.with_suffix(".json").write_text(as_json(found | more))
    for name, columns in (("channels", _CHANNELS), ("events", _EVENTS)):
        one = source.with_name(source.name.replace("_eeg.vhdr", f"_{name}.tsv"))
        two = target.with_name(target.name.replace("_eeg.vhdr", f"_{name}.tsv"))
        two.write_text(scrub.table(one.read_text(), columns, going.scrub))
    return {source.with_suffix(e).name for e in (".vhdr", ".vmrk", ".eeg", ".json")}


def _write_positions(going: Going, source: Path, target: Path) -> set[str]:
    names = set()
    for path in source.glob("*_space-CapTrak_electrodes.tsv"):
        text = scrub.table(path.read_text(), _PLACES, going.scrub)
        (target / f"{going.short_stem}_space-CapTrak_electrodes.tsv").write_text(text)
        names.add(path.name)
    for path in source.glob("*_space-CapTrak_coordsystem.json"):
        found = scrub.sidecar(path.read_text(), _SYSTEM, going.scrub)
        found["EEGCoordinateSystemDescription"] = sentences()["positions"]
        (target / f"{going.short_stem}_space-CapTrak_coordsystem.json").write_text(as_json(found))
        names.add(path.name)
    return names
