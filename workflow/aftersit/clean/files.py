"""The edge: raw BIDS in, a BIDS derivative out."""

import json
import os
import tempfile
from importlib.metadata import version
from pathlib import Path

from aftersit.bids import pieces
from aftersit.bids.dataset import BIDS_VERSION
from aftersit.bids.tables import MISSING, read_tsv, tsv
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.run import Cleaned, clean_recording
from aftersit.electrodes import STANDARD_19
from aftersit.errors import AftersitError
from aftersit.files import as_json, write_atomically, write_if_changed
from aftersit.quality import Quality
from aftersit.settings import Settings

CARRIED_KEYS = ("TaskName", "TaskDescription", "Practice", "EEGGround", "EEGPlacementScheme")
CARRIED_KEYS += ("PowerLineFrequency", "HardwareFilters", "RecordingType")
LEVELS = {
    "bad_movement": "several electrodes swing together far beyond their usual",
    "bad_pop": "an electrode jumps by itself",
    "bad_clipping": "the amplifier was at its end",
    "bad_dropout": "all electrodes stand still within the recording",
    "bad_constant": "one and the same value, or the recording's still end",
    "bad_mains": "a burst at the mains frequency that could not be removed",
    "bad_electrode": "an electrode was bad for a while",
}


def clean_sitting(raw_vhdr: Path, out_vhdr: Path, settings: Settings) -> None:
    """Clean one sitting of raw BIDS into a derivative.

    Parameters
    ----------
    raw_vhdr : Path
        `bids/sub-K07/ses-03/eeg/<stem>_eeg.vhdr`; `_channels.tsv` and
        `_eeg.json` lie beside it.
    out_vhdr : Path
        `derivatives/clean-<settings>/sub-K07/ses-03/eeg/<stem>_desc-clean_eeg.vhdr`;
        sidecars, tables and the derivative's description are written with it.
    settings : Settings
        The settings version.

    Raises
    ------
    AftersitError
        The recording holds too few electrodes to say anything.
    """
    raw = read_raw(raw_vhdr)
    stem = raw_vhdr.with_name(raw_vhdr.name.removesuffix("_eeg.vhdr"))
    sidecar = json.loads(Path(f"{stem}_eeg.json").read_text())
    channels = read_tsv(Path(f"{stem}_channels.tsv").read_text())
    mains_hz = sidecar.get("PowerLineFrequency")
    prior_hz = float(mains_hz) if isinstance(mains_hz, int | float) else None
    cleaned = clean_recording(raw, read_limits(channels), prior_hz, settings.clean, settings.seed)
    _write(out_vhdr, cleaned, sidecar, settings)


def read_raw(vhdr: Path):
    """Read a BrainVision file with channel types from the table beside it; volts."""
    import mne

    raw = mne.io.read_raw_brainvision(vhdr, verbose="ERROR")
    table = Path(f"{str(vhdr).removesuffix('_eeg.vhdr')}_channels.tsv")
    known = {"ECG": "ecg", "EOG": "eog", "EMG": "emg", "TRIG": "stim", "MISC": "misc"}
    types = {
        row["name"]: known[row["type"]]
        for row in read_tsv(table.read_text())
        if row["type"] in known and row["name"] in raw.ch_names
    }
    raw.set_channel_types(types, on_unit_change="ignore", verbose="ERROR")
    present = [name for name in STANDARD_19 if name in raw.ch_names]
    if len(present) < 4:
        raise AftersitError(
            f"{vhdr.name} holds {len(present)} of the 19 standard electrodes; "
            "cleaning needs at least 4"
        )
    return raw


def read_limits(channels: list[dict[str, str]]) -> ChannelLimits:
    """The tightest filters that the channels table states for the electrodes."""
    rows = [row for row in channels if row["name"] in STANDARD_19]
    lows = [value for row in rows for value in _numbers(row.get("low_cutoff"))]
    highs = [value for row in rows for value in _numbers(row.get("high_cutoff"))]
    notches = {value for row in rows for value in _numbers(row.get("notch"))}
    return ChannelLimits(max(lows, default=None), min(highs, default=None), tuple(sorted(notches)))


def _numbers(cell: str | None) -> list[float]:
    """Numbers of a cell: one, or a list in brackets; none for `n/a`."""
    if cell is None or cell == MISSING:
        return []
    return [float(part) for part in cell.strip("[]").split(",") if part.strip()]


def _write(out_vhdr: Path, cleaned: Cleaned, sidecar: dict, settings: Settings) -> None:
    stem = out_vhdr.name.removesuffix("_eeg.vhdr")
    folder = out_vhdr.parent
    write_if_changed(
        folder.parents[2] / "dataset_description.json", as_json(_dataset_description())
    )
    _write_signal(out_vhdr, cleaned)
    texts = {
        f"{stem}_channels.tsv": _channels_tsv(cleaned.quality),
        f"{stem}_events.tsv": _events_tsv(cleaned.quality),
        f"{stem}_events.json": as_json(_events_json()),
        f"{stem}_eeg.json": as_json(_eeg_json(cleaned.quality, sidecar, settings)),
    }
    for name, text in texts.items():
        write_atomically(folder / name, text)


def _write_signal(out_vhdr: Path, cleaned: Cleaned) -> None:
    """BrainVision, float32 microvolts; no clock, since no date of measurement is given."""
    from pybv import write_brainvision

    out_vhdr.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=out_vhdr.parent, prefix=".writing-") as place:
        write_brainvision(
            data=cleaned.data_uv[:, : pieces.PIECE_SAMPLES] * 1e-6,
            sfreq=cleaned.quality.rate_hz,
            ch_names=cleaned.names,
            ref_ch_names="average",
            fname_base=out_vhdr.stem,
            folder_out=place,
            resolution=1.0,
            unit="µV",
        )
        pieces.add_other_pieces(
            Path(place) / f"{out_vhdr.stem}.eeg",
            cleaned.data_uv,
            cleaned.quality.rate_hz,
            cleaned.names,
            "µV",
            1.0,
            volts_per_unit=1e-6,
        )
        for ending in (".eeg", ".vmrk", ".vhdr"):
            os.replace(Path(place) / f"{out_vhdr.stem}{ending}", out_vhdr.with_suffix(ending))


def _dataset_description() -> dict:
    return {
        "Name": "Meditation sittings, cleaned",
        "BIDSVersion": BIDS_VERSION,
        "DatasetType": "derivative",
        "GeneratedBy": [{"Name": "Aftersit", "Version": version("aftersit")}],
        "SourceDatasets": [{"URL": "../../bids"}],
    }


def _eeg_json(quality: Quality, sidecar: dict, settings: Settings) -> dict:
    """Required keys carried over from the raw sidecar, what was done, and the account."""
    carried = {key: sidecar[key] for key in CARRIED_KEYS if key in sidecar}
    return carried | {
        "EEGReference": "average of the good electrodes",
        "SamplingFrequency": quality.rate_hz,
        "SoftwareFilters": _software_filters(quality, settings),
        "RecordingDuration": quality.duration_s,
        "EEGChannelCount": len(quality.good),
        "Description": _description(quality, settings),
        "Quality": quality.model_dump(mode="json"),
    }


def _description(quality: Quality, settings: Settings) -> str:
    """What was done, in order."""
    steps = ["mains removed" if quality.mains_hz else "no mains found", "high-passed"]
    if quality.heart:
        steps.append("the mean heartbeat subtracted at each beat")
    steps.append("good electrodes against their average")
    removed = {c.label for c in quality.components if c.removed}
    if removed - {"eye"}:
        steps.append("the components listed as removed taken out")
    if "eye" in removed:
        below_hz = settings.clean.components.eye_below_hz
        steps.append(f"eye components taken out below {below_hz:g} Hz while they move")
    if quality.muscle_pattern:
        above_hz = quality.muscle_pattern.crossover_hz
        steps.append(f"muscle's spatial pattern damped above {above_hz:g} Hz")
    text = "; ".join([*steps, "nothing was interpolated"])
    return f"{text[0].upper()}{text[1:]}."


def _software_filters(quality: Quality, settings: Settings) -> dict:
    cutoff_hz = settings.clean.high_pass_hz
    found: dict = {
        "HighPass": {
            "CutoffHz": cutoff_hz,
            "Kind": "Butterworth of order 3, forwards and backwards",
        }
    }
    if quality.mains_hz is not None:
        found["Mains"] = {
            "CentreHz": quality.mains_hz,
            "Kind": "slowly changing sinusoids subtracted",
            "WindowSeconds": settings.clean.mains.window_s,
        }
    return found


def _channels_tsv(quality: Quality) -> str:
    """One row for each electrode in the file; those left out stand in `Quality`."""
    columns = ("name", "type", "units", "sampling_frequency", "reference", "status")
    rows = [[name, "EEG", "µV", quality.rate_hz, "average", "good"] for name in quality.good]
    return tsv(columns, rows)


def _events_tsv(quality: Quality) -> str:
    rows = [
        [
            span.start_s,
            round(span.stop_s - span.start_s, 6),
            f"bad_{span.reason}",
            ",".join(span.electrodes) or None,
        ]
        for span in quality.bad_spans
    ]
    return tsv(("onset", "duration", "trial_type", "electrodes"), rows)


def _events_json() -> dict:
    return {
        "onset": {"Description": "Start, from the first sample, guard included", "Units": "s"},
        "duration": {"Description": "Length, guards included", "Units": "s"},
        "trial_type": {"Description": "Why these seconds can't be used", "Levels": LEVELS},
        "electrodes": {"Description": "Electrodes concerned; n/a where it is no single one"},
    }
