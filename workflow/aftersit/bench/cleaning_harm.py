"""No harm: what cleaning does to sittings that need none."""

from collections.abc import Iterator

import numpy as np

from aftersit.bench.case import Case
from aftersit.bench.measured import region_matrix
from aftersit.bench.open_recordings import RESIDUAL_MUSCLE
from aftersit.bench.recordings import Recording, opened
from aftersit.bench.sittings import simulate
from aftersit.bench.table import Table
from aftersit.clean.carried import ChannelLimits
from aftersit.clean.run import Cleaned
from aftersit.clean.spans import bad_samples
from aftersit.clean.windows import band_covariances, in_windows
from aftersit.electrodes import STANDARD_19

SEED = 63000
MINUTES = 5.0
WINDOW_S = 2.0
REGIONS = (
    "insula-right",
    "superiorfrontal-both",
    "lateraloccipital-both",
    "caudalanteriorcingulate-both",
    "precuneus-both",
)
BANDS_HZ = ((4.0, 8.0), (8.0, 13.0), (13.0, 30.0), (30.0, 45.0))


def harm_tables(quick: bool) -> Iterator[Table]:
    """Simulated sittings without faults or muscle, and the open ones that were cleaned before."""
    yield Table(
        "harm-simulated",
        "sittings without faults or muscle: region band power, cleaned over true, dB",
        [row for eyes in ("closed", "open") for row in _simulated_rows(eyes, quick)],
        notes=(
            f"five regions; true is brain with the recorder's noise, over the same {WINDOW_S:g} s "
            "windows; eyes (60-180 uV blinks when open) and a heart of 0-20 uV are in the signal",
        ),
    )
    rows = [_open_row(base) for base in opened(2 if quick else 9) if base.limits.high_hz]
    if rows:
        yield Table(
            "harm-open",
            "open recordings that their authors cleaned: region band power, after over before, dB",
            rows,
            notes=(
                "heartbeats (so many uV) and eyes that are taken out are changes that should be; "
                "lost beyond: seconds that were not bad when looked at; "
                f"{' and '.join(RESIDUAL_MUSCLE)} hold muscle that the authors left",
            ),
        )


def _simulated_rows(eyes: str, quick: bool) -> Iterator[dict]:
    changes, dropped, lost = [], 0, []
    for k in range(1 if quick else 5):
        case = Case.drawn(SEED + k, minutes=1.0 if quick else MINUTES, eyes=eyes)
        made = simulate(case)
        fine = np.zeros(made.brain.shape[1], bool)
        base = Recording("", "simulated", made.signal_uv, case.rate_hz, ChannelLimits(), 50.0, fine)
        cleaned = base.cleaned(base.x)
        changes.append(changes_db(cleaned, made.brain + made.parts["noise"], case.rate_hz))
        dropped += len(STANDARD_19) - len(cleaned.names)
        lost.append(1 - cleaned.quality.usable_s / cleaned.quality.duration_s)
    for band, values in zip(BANDS_HZ, np.stack(changes, axis=-1), strict=True):
        yield {
            "eyes": eyes,
            "band_hz": f"{band[0]:g}-{band[1]:g}",
            "median": round(float(np.median(values)), 3),
            "median_size": round(float(np.median(np.abs(values))), 3),
            "largest": round(float(np.abs(values).max()), 3),
            "electrodes_dropped": dropped,
            "lost_percent": round(100 * float(np.mean(lost)), 2),
        }


def _open_row(base: Recording) -> dict:
    cleaned = base.cleaned(base.x)
    values = changes_db(cleaned, base.x, base.rate_hz)
    lost = bad_samples(cleaned.quality.bad_spans, base.rate_hz, base.x.shape[1])
    names = [f"{low:g}-{high:g}" for low, high in BANDS_HZ]
    largest = {
        name: round(float(np.abs(row).max()), 3) for name, row in zip(names, values, strict=True)
    }
    return {
        "file": base.name,
        **largest,
        "heart_uv": cleaned.quality.heart and round(cleaned.quality.heart.size_uv, 1),
        "eye_components": sum(c.removed and c.label == "eye" for c in cleaned.quality.components),
        "electrodes_dropped": len(STANDARD_19) - len(cleaned.names),
        "lost_percent": round(100 * float(lost.mean()), 2),
        "lost_beyond_percent": round(100 * float((lost & ~base.really_bad).mean()), 2),
    }


def changes_db(cleaned: Cleaned, before: np.ndarray, rate_hz: float) -> np.ndarray:
    """Region band power of the usable windows, cleaned over another signal.

    Parameters
    ----------
    cleaned : Cleaned
    before : ndarray, shape (19, n_samples)
        uV, any reference.
    rate_hz : float

    Returns
    -------
    ndarray, shape (n_bands, n_regions)
    """
    hop = round(WINDOW_S * rate_hz / 2)
    lost = bad_samples(cleaned.quality.bad_spans, rate_hz, before.shape[1])
    usable = ~in_windows(lost, hop)
    rows = [STANDARD_19.index(name) for name in cleaned.names]
    after = band_covariances(cleaned.data_uv, rate_hz, hop, BANDS_HZ)[:, usable].mean(axis=1)
    was = band_covariances(before[rows], rate_hz, hop, BANDS_HZ)[:, usable].mean(axis=1)
    matrices = [region_matrix(key, tuple(cleaned.names)) for key in REGIONS]
    powers = [np.einsum("bij,rij->br", c, np.stack(matrices)) for c in (after, was)]
    return 10 * np.log10(powers[0] / powers[1])
