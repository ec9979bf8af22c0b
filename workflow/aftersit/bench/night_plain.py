"""The same analysis the customary way: one script on mne, every source first, then regions.

Upload to pages: filters, components, inverse in pieces, regions, band power of each block,
thresholds from the baseline, a replay, and pages by matplotlib. It has no account of muscle,
no chance, advice, second replay or words; it is what a good engineer writes first.
"""

from pathlib import Path

import numpy as np
import yaml

from aftersit.bench import library
from aftersit.bench.heads import template_head
from aftersit.electrodes import STANDARD_19
from aftersit.errors import AftersitError

PIECE_S = 10.0
NOISE_V = 0.2e-6
BANDS_HZ = {"theta": (4, 8), "alpha": (8, 13), "beta": (13, 30), "gamma": (30, 45)}
SMOOTH_S, UPDATE_S = 1.0, 0.125
OVER_BASELINE_DB = 0.5
SEED = 70200


def plain_script(upload: Path, page: Path) -> None:
    """Analyse one upload and write its page, a PDF."""
    import mne

    sheet = yaml.safe_load((upload / "sitting.yaml").read_text())
    with mne.utils.use_log_level("ERROR"):
        raw = cleaned(next(upload.glob("*.edf")))
        names, courses = region_courses(raw)
    rate_hz = raw.info["sfreq"]
    powers = {band: band_power(courses, rate_hz, limits) for band, limits in BANDS_HZ.items()}
    rewarded, limit = replay(powers["theta"][names.index("caudalanteriorcingulate-lh")], sheet)
    write_pages(page, sheet, names, powers, rewarded, limit)


def cleaned(path: Path):
    """Filters, components out, average reference."""
    import mne
    from mne_icalabel import label_components

    raw = mne.io.read_raw_edf(path, preload=True)
    raw.pick(list(STANDARD_19))
    raw.set_montage("fsaverage_1020")
    raw.notch_filter(50.0)
    raw.filter(1.0, 100.0)
    raw.set_eeg_reference("average")
    fit = {"ortho": False, "extended": True}
    ica = mne.preprocessing.ICA(18, method="picard", fit_params=fit, random_state=SEED)
    ica.fit(raw)
    labels = label_components(raw, ica, method="iclabel")["labels"]
    ica.exclude = [i for i, label in enumerate(labels) if label not in ("brain", "other")]
    ica.apply(raw)
    return raw.set_eeg_reference(projection=True)


def region_courses(raw) -> tuple[list[str], np.ndarray]:
    """Names, and time courses of all regions, shape (n_regions, n_samples)."""
    import mne

    head = template_head()
    inverse = library.inverse_operator(library.forward_solution(head), raw, NOISE_V)
    inverse = mne.minimum_norm.prepare_inverse_operator(inverse, 1, 1 / 9, "sLORETA")
    labels, parts = library.labels(head), []
    step = round(PIECE_S * raw.info["sfreq"])
    for start in range(0, raw.n_times, step):
        stop = min(start + step, raw.n_times)
        estimate = mne.minimum_norm.apply_inverse_raw(
            raw, inverse, 1 / 9, "sLORETA", start=start, stop=stop, prepared=True
        )
        parts.append(
            mne.extract_label_time_course(estimate, labels, inverse["src"], mode="mean_flip")
        )
    return [f"{one.name}-{one.hemi}" for one in labels], np.concatenate(parts, axis=1)


def band_power(courses: np.ndarray, rate_hz: float, limits_hz: tuple[float, float]) -> np.ndarray:
    """Smoothed power at each update, shape (n_regions, n_updates)."""
    from mne.filter import filter_data
    from scipy.ndimage import uniform_filter1d

    power = filter_data(courses, rate_hz, *limits_hz, verbose="ERROR") ** 2
    smooth = uniform_filter1d(power, round(SMOOTH_S * rate_hz), axis=1)
    return smooth[:, :: round(UPDATE_S * rate_hz)]


def replay(power: np.ndarray, sheet: dict) -> tuple[np.ndarray, float]:
    """When the region was past the threshold over the baseline, and the threshold."""
    baseline = next((b for b in sheet["blocks"] if b["kind"] == "baseline"), None)
    if baseline is None:
        raise AftersitError("the bench's sheet has no baseline")
    limit = power[_updates(baseline)].mean() * 10 ** (OVER_BASELINE_DB / 10)
    return power > limit, float(limit)


def _updates(block: dict) -> slice:
    return slice(round(block["start"] / UPDATE_S), round(block["end"] / UPDATE_S))


def write_pages(page: Path, sheet: dict, names: list, powers: dict, rewarded, limit: float) -> None:
    """A page of the replay, and one of band power by block for each band."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt
    from matplotlib.backends.backend_pdf import PdfPages

    with PdfPages(page) as book:
        times_min = np.arange(rewarded.size) * UPDATE_S / 60
        figure, (above, below) = plt.subplots(2, figsize=(11, 7), sharex=True)
        above.plot(times_min, powers["theta"][0])
        above.axhline(limit)
        below.fill_between(times_min, rewarded.astype(float), step="post")
        shares = [rewarded[_updates(b)].mean() for b in sheet["blocks"]]
        below.set_title(", ".join(f"{share:.0%}" for share in shares))
        book.savefig(figure)
        for band, power in powers.items():
            figure, axis = plt.subplots(figsize=(11, 7))
            means = [power[:, _updates(b)].mean(axis=1) for b in sheet["blocks"]]
            axis.imshow(10 * np.log10(np.array(means).T), aspect="auto")
            axis.set_yticks(range(len(names)), names, fontsize=4)
            axis.set_title(band)
            book.savefig(figure)
        plt.close("all")
