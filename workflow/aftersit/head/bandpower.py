"""Band power of regions and electrodes in each block of one cleaned sitting."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from aftersit.blocks import Block, from_events
from aftersit.errors import AftersitError
from aftersit.files import write_atomically
from aftersit.head.bandtable import UV2_PER_V2, band_tables
from aftersit.head.crossfile import save_cross
from aftersit.head.kept import Model, kept_measures
from aftersit.head.settings import HeadSettings
from aftersit.head.spectra import BlockSpectrum, cross_spectrum, usable_runs
from aftersit.quality import Quality, read_quality
from aftersit.tsv import as_tsv

SPECTRA_COLUMNS = ["block", "electrode", "frequency_hz", "psd_uv2_per_hz"]


def measure_sitting(clean: Path, events: Path, model: Model, out_folder: Path) -> None:
    """Write the region measures, cross-spectra and tables of one sitting.

    Files: `_regions.npz`, `_cross.npz`, `_bandpower.tsv`, `_aperiodic.tsv`, `_spectra.tsv`.

    Parameters
    ----------
    clean : Path
        `<stem>_desc-clean_eeg.vhdr`; its sidecar `.json` lies beside it.
    events : Path
        `_events.tsv` of the raw recording.
    model : Model
        Of the montage.
    out_folder : Path
        Where the files go, named `<stem>_...`.

    Raises
    ------
    AftersitError
        The recording does not hold the electrodes that its sidecar calls good.
    """
    quality = read_quality(clean.with_suffix(".json"))
    stem = clean.name.removesuffix("_desc-clean_eeg.vhdr")
    measures, kept = kept_measures(model, quality.good)
    signal, rate_hz = read_clean(clean, quality.good)
    spectra = block_spectra(signal, rate_hz, from_events(events), quality, model.settings)
    write_atomically(out_folder / f"{stem}_regions.npz", kept.read_bytes())
    shown_hz = (model.settings.spectra_low_hz, model.settings.spectra_high_hz)
    save_cross(spectra, quality.good, shown_hz, out_folder / f"{stem}_cross.npz")
    powers, slopes = band_tables(spectra, measures, quality.carried, model.settings)
    tables = {
        "bandpower": powers,
        "aperiodic": slopes,
        "spectra": spectra_table(spectra, quality.good, model.settings),
    }
    for name, table in tables.items():
        write_atomically(out_folder / f"{stem}_{name}.tsv", as_tsv(table))


def read_clean(clean: Path, good: Sequence[str]) -> tuple[np.ndarray, float]:
    """The good electrodes of a cleaned recording.

    Returns
    -------
    ndarray, shape (n_good, n_samples)
        Volts, average reference over the good electrodes.
    float
        Sampling rate in Hz.
    """
    import mne

    raw = mne.io.read_raw_brainvision(clean, verbose="ERROR")
    missing = [name for name in good if name not in raw.ch_names]
    if missing:
        raise AftersitError(
            f"{clean.name} lacks {', '.join(missing)}, which its sidecar calls good; clean it again"
        )
    signal = raw.get_data(picks=list(good))
    signal -= signal.mean(axis=0)
    return signal, float(raw.info["sfreq"])


def block_spectra(
    signal: np.ndarray,
    rate_hz: float,
    blocks: Sequence[Block],
    quality: Quality,
    settings: HeadSettings,
) -> list[BlockSpectrum]:
    """Cross-spectrum of each block, from segments that touch no bad span."""
    bad = [(span.start_s, span.stop_s) for span in quality.bad_spans]
    spectra = []
    for block in blocks:
        runs = usable_runs(block.start_s, block.stop_s, bad)
        spectrum = cross_spectrum(
            signal, rate_hz, runs, settings.segment_s, settings.segment_overlap
        )
        spectra.append(BlockSpectrum(block.index, spectrum))
    return spectra


def spectra_table(
    spectra: Sequence[BlockSpectrum], good: Sequence[str], settings: HeadSettings
) -> pd.DataFrame:
    """Power spectral density of the good electrodes in each block that has segments."""
    parts = [
        _spectrum_rows(item, good, settings) for item in spectra if item.spectrum.n_segments > 0
    ]
    empty = pd.DataFrame(columns=SPECTRA_COLUMNS)
    return pd.concat(parts, ignore_index=True) if parts else empty


def _spectrum_rows(
    item: BlockSpectrum, good: Sequence[str], settings: HeadSettings
) -> pd.DataFrame:
    frequency = item.spectrum.frequency_hz
    shown = (frequency >= settings.spectra_low_hz) & (frequency <= settings.spectra_high_hz)
    return pd.DataFrame(
        {
            "block": item.block,
            "electrode": np.repeat(list(good), shown.sum()),
            "frequency_hz": np.tile(frequency[shown], len(good)),
            "psd_uv2_per_hz": (item.spectrum.auto[:, shown] * UV2_PER_V2).ravel(),
        }
    )
