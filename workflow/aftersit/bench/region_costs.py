"""What regions cost: model, measures, band power; beside mne's way to the same numbers."""

from pathlib import Path

import numpy as np

from aftersit.bench import heads
from aftersit.bench.cost import Cost, cost_of
from aftersit.bench.table import Table
from aftersit.electrodes import LARGER_64, STANDARD_19

RATE_HZ = 256.0
SEED = 20260421
REGIONS = 10


def cost_table(quick: bool) -> Table:
    """Processor seconds, wall seconds and peak memory of each piece of work."""
    measures_file()
    works = {
        "imports alone": (_imports,),
        "head model, 19 electrodes": (_build, STANDARD_19),
        "head model, 64 electrodes": (_build, LARGER_64),
        "all measures of a set of good electrodes": (_measures,),
        "1 minute: band power of all regions, 5 bands": (_band_power, 60.0),
        "30 minutes: band power of all regions, 5 bands": (_band_power, 1800.0),
        "30 minutes: band-pass of 19 channels, one band": (_courses, 1800.0, 0),
        f"30 minutes: the same and {REGIONS} region measures over time": (
            _courses,
            1800.0,
            REGIONS,
        ),
        "1 minute: mne, every source, then 68 label time courses": (_library, 60.0),
    }
    if quick:
        works = {name: work for name, work in works.items() if "head" not in name}
    rows = [_row(name, cost_of(*work)) for name, work in works.items()]
    note = (
        f"{RATE_HZ:g} Hz, each in a process of its own, imports included, one thread. mne's way is "
        "apply_inverse_raw and extract_label_time_course; it gives no band power yet."
    )
    return Table("cost", "What it costs", rows, (note,))


def _row(name: str, cost: Cost) -> dict:
    return {"what": name, "cpu_s": cost.cpu_s, "wall_s": cost.wall_s, "peak_mb": cost.peak_mb}


def _imports() -> None:
    import mne
    import scipy.signal  # noqa: F401

    assert mne.__version__


def _build(names: tuple[str, ...]) -> None:
    from aftersit.head.model import build_head
    from aftersit.settings import load_settings

    build_head(load_settings(heads.LABEL).head, names)


def _measures():
    from aftersit.head.regions import region_measures
    from aftersit.settings import load_settings

    head = heads.template_head()
    return region_measures(head, head.names, load_settings(heads.LABEL).head)


def _signal(seconds: float) -> np.ndarray:
    return np.random.default_rng(SEED).normal(scale=1e-5, size=(19, int(seconds * RATE_HZ)))


def _band_power(seconds: float) -> None:
    from aftersit.head.bands import bands
    from aftersit.head.measures import load_region_measures
    from aftersit.head.spectra import cross_spectrum

    matrices = load_region_measures(measures_file()).sloreta.matrices
    spectrum = cross_spectrum(_signal(seconds), RATE_HZ, [(0.0, seconds)], 2.0, 0.5)
    for band in bands():
        covariance = spectrum.band_covariance(*band.limits_hz)
        matrices.reshape(len(matrices), -1) @ covariance.ravel()


def _courses(seconds: float, n_regions: int) -> None:
    from scipy.signal import butter, sosfilt

    from aftersit.head.measures import load_region_measures
    from aftersit.replay.engine import quadratic_root

    filtered = sosfilt(butter(4, (8, 13), "bandpass", fs=RATE_HZ, output="sos"), _signal(seconds))
    matrices = load_region_measures(measures_file()).sloreta.matrices
    for matrix in matrices[:n_regions]:
        np.einsum("ct,ct->t", *2 * [quadratic_root(matrix) @ filtered])


def measures_file() -> Path:
    """Measures of the 19 electrodes, made when they are not there yet."""
    from aftersit.head.measures import save_region_measures

    path = heads.template_file().with_suffix(".measures.npz")
    if not path.exists():
        save_region_measures(_measures(), path)
    return path


def _library(seconds: float) -> None:
    """Every source over time, then the mean over each region."""
    import mne

    from aftersit.bench import library

    head = heads.template_head()
    raw = library.recording(_signal(seconds), RATE_HZ, head.names)
    inverse = library.inverse_operator(library.forward_solution(head), raw, 0.2e-6)
    with mne.utils.use_log_level("ERROR"):
        estimate = mne.minimum_norm.apply_inverse_raw(raw, inverse, 1 / 9, method="sLORETA")
        labels = library.labels(head)
        mne.extract_label_time_course(estimate, labels, inverse["src"], mode="mean")
