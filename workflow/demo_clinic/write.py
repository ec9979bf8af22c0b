"""Recordings on disk: EDF, EDF+, BDF and BrainVision, with headers that need scrubbing."""

import datetime as dt
from pathlib import Path

import numpy as np

from demo_clinic.sitting import Person, Sitting

OLD_NAMES = {"T7": "T3", "T8": "T4", "P7": "T5", "P8": "T6"}
EDF_RANGE_UV = (-3276.8, 3276.7)
"""Steps of 0.1 uV."""
BDF_RANGE_UV = (-262144, 262143)

Annotation = tuple[float, float, str]
"""Onset and duration in s, text."""


def label(electrode: str, style: str) -> str:
    """An electrode's name as the sitting's recorder writes it."""
    name = OLD_NAMES.get(electrode, electrode) if style.startswith("old") else electrode
    return f"EEG {name}-REF" if style.endswith("clutter") else name


def write_recording(
    folder: Path,
    sitting: Sitting,
    person: Person,
    channels: dict[str, np.ndarray],
    annotations: list[Annotation],
) -> None:
    """Write one recording as `recording.*` into a folder.

    Parameters
    ----------
    channels : dict of ndarray, shape (n_samples,)
        Final names and signals in uV.
    annotations : list of tuple
        Written to EDF+ only.
    """
    if sitting.file == "brainvision":
        _write_brainvision(folder, sitting, channels)
    else:
        _write_edf(folder, sitting, person, channels, annotations)


def _write_edf(folder, sitting, person, channels, annotations) -> None:
    import edfio

    is_bdf = sitting.file == "bdf"
    make_signal = edfio.BdfSignal if is_bdf else edfio.EdfSignal
    low, high = BDF_RANGE_UV if is_bdf else EDF_RANGE_UV
    digital = {} if is_bdf else {"digital_range": (-32768, 32767)}
    signals = [
        make_signal(
            np.clip(values, low, high),
            sitting.rate_hz,
            label=name,
            transducer_type="AgAgCl cup electrodes",
            physical_dimension="uV",
            physical_range=(low, high),
            **digital,
        )
        for name, values in channels.items()
    ]
    text = [edfio.EdfAnnotation(*annotation) for annotation in annotations]
    written = (edfio.Bdf if is_bdf else edfio.Edf)(
        signals,
        patient=edfio.Patient(
            code=sitting.client, sex=person.sex, birthdate=person.born, name=person.name
        ),
        recording=edfio.Recording(
            startdate=sitting.starts.date(),
            investigator_technician_code="Tessa_Inventa",
            equipment_code="simulated",
        ),
        starttime=sitting.starts.time(),
        data_record_duration=1,
        annotations=text if sitting.file == "edf+" else None,
    )
    written.write(folder / f"recording.{'bdf' if is_bdf else 'edf'}")


def _write_brainvision(folder: Path, sitting: Sitting, channels: dict[str, np.ndarray]) -> None:
    import pybv

    low, high = EDF_RANGE_UV
    pybv.write_brainvision(
        data=np.clip(np.stack(list(channels.values())), low, high) * 1e-6,
        sfreq=sitting.rate_hz,
        ch_names=list(channels),
        fname_base="recording",
        folder_out=str(folder),
        resolution=0.1,
        fmt="binary_int16",
        meas_date=dt.datetime.combine(sitting.starts.date(), sitting.starts.time()),
    )
