"""What the stage costs, beside the plain way of doing the same, in one run."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from aftersit.bench.case import Case, Tension
from aftersit.bench.cost import cost_of
from aftersit.bench.heads import LABEL
from aftersit.bench.table import Table
from aftersit.clean.carried import ChannelLimits
from aftersit.electrodes import STANDARD_19
from aftersit.settings import load_settings

SEED = 65000
MINUTES, QUICK_MINUTES = 30.0, 3.0
RATE_HZ = 256.0


def cost_tables(quick: bool) -> Iterator[Table]:
    """Processor seconds and peak memory of a whole sitting, each way in its own process."""
    from aftersit.bench.sittings import simulate

    minutes = QUICK_MINUTES if quick else MINUTES
    tensions = (Tension(6.0, spans=((60.0, 100.0), (130.0, 150.0))),)
    made = simulate(
        Case.drawn(SEED, minutes=minutes, rate_hz=RATE_HZ, eyes="open", tensions=tensions)
    )
    ways = {
        "reading alone": read_alone,
        "this stage": this_stage,
        "plain way": plain_way,
    }
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sitting.npy"
        np.save(path, made.signal_uv.astype(np.float32))
        del made
        for name, work in ways.items():
            cost = cost_of(work, path)
            rows.append(
                {
                    "way": name,
                    "cpu_s": round(cost.cpu_s, 2),
                    "wall_s": round(cost.wall_s, 2),
                    "peak_mb": round(cost.peak_mb),
                }
            )
    yield Table(
        "cost",
        f"cost of {minutes:g} minutes, 19 electrodes, {RATE_HZ:g} Hz, imports included",
        rows,
        notes=(
            "plain way: mne's zero-phase filters, extended infomax by picard on all samples, "
            "labels by mne-icalabel, components out",
        ),
    )


def _raw(path: Path):
    from aftersit.bench.sittings import as_raw

    return as_raw(np.load(path).astype(float), STANDARD_19, RATE_HZ)


def read_alone(path: Path) -> None:
    """What both ways begin with."""
    _raw(path)


def this_stage(path: Path) -> None:
    """Clean with the settings in force."""
    from aftersit.clean.run import clean_recording

    settings = load_settings(LABEL)
    clean_recording(_raw(path), ChannelLimits(), 50.0, settings.clean, settings.seed)


def plain_way(path: Path) -> None:
    """The usual few lines with mne."""
    import mne
    from mne_icalabel import label_components

    with mne.utils.use_log_level("ERROR"):
        raw = _raw(path)
        raw.set_montage("fsaverage_1020")
        raw.notch_filter(50.0)
        raw.filter(1.0, 100.0)
        raw.set_eeg_reference("average")
        ica = mne.preprocessing.ICA(
            18, method="picard", fit_params={"ortho": False, "extended": True}, random_state=SEED
        )
        ica.fit(raw)
        found = label_components(raw, ica, method="iclabel")
        ica.exclude = [
            i for i, label in enumerate(found["labels"]) if label not in ("brain", "other")
        ]
        ica.apply(raw)
