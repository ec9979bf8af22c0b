"""Band power of one sitting, from files to files."""

import json

import mne
import numpy as np
import pandas as pd
import pytest
import scipy.signal
from sittings import GOOD, RATE_HZ, STEM, signal_uv, write_sitting

from aftersit.electrodes import STANDARD_19
from aftersit.errors import AftersitError
from aftersit.head.bandpower import SPECTRA_COLUMNS, measure_sitting
from aftersit.head.bands import bands
from aftersit.head.bandtable import APERIODIC_COLUMNS, BANDPOWER_COLUMNS
from aftersit.head.crossfile import load_cross
from aftersit.head.measures import load_region_measures
from aftersit.head.placepower import place_power
from aftersit.head.region_set import shipped_regions
from aftersit.head.regions import good_kernel, matrix_for

ALPHA = (8, 13)


@pytest.fixture(scope="module")
def written(model, tmp_path_factory):
    folder = tmp_path_factory.mktemp("sitting")
    clean, events = write_sitting(folder)
    measure_sitting(clean, events, model, folder / "out")
    return folder / "out"


def table(folder, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / f"{STEM}_{name}.tsv", sep="\t", na_values="n/a")


def baseline_uv() -> np.ndarray:
    """The good electrodes in block 1, average reference."""
    rows = [STANDARD_19.index(name) for name in GOOD]
    signal = signal_uv()[rows, : int(20 * RATE_HZ)]
    return signal - signal.mean(axis=0)


def sum_of_bins(density: np.ndarray, frequency_hz: np.ndarray, band_hz) -> np.ndarray:
    inside = (frequency_hz >= band_hz[0]) & (frequency_hz < band_hz[1])
    return density[..., inside].sum(axis=-1) * (frequency_hz[1] - frequency_hz[0])


def test_table_has_every_place_band_and_block_once(written):
    rows = table(written, "bandpower")
    assert list(rows.columns) == BANDPOWER_COLUMNS
    assert not rows.duplicated(["block", "place", "measure", "band"]).any()
    assert len(rows) == 3 * len(bands()) * (2 * 3 * (34 + 10) + len(GOOD))
    units = rows.groupby("measure")["unit"].unique().to_dict()
    assert {kind: list(unit) for kind, unit in units.items()} == {
        "sloreta": ["sLORETA^2"],
        "selective": ["selective units"],
        "sensor": ["uV^2"],
    }


def test_electrodes_equal_welch_of_scipy(written):
    frequency, density = scipy.signal.welch(baseline_uv(), RATE_HZ, "hann", 400)
    rows = table(written, "bandpower").query("block == 1 and place_kind == 'electrode'")
    for band in bands()[:4]:
        ours = rows[rows["band"] == band.name].set_index("place").loc[GOOD, "power"]
        theirs = sum_of_bins(density, frequency, band.limits_hz)
        np.testing.assert_allclose(ours, theirs, rtol=1e-4)


def test_selective_rows_are_the_selective_matrix_s(written):
    measures = load_region_measures(written / f"{STEM}_regions.npz")
    frequency, density = scipy.signal.csd(
        baseline_uv()[:, None] * 1e-6, baseline_uv()[None] * 1e-6, RATE_HZ, nperseg=400
    )
    covariance = sum_of_bins(density.real, frequency, ALPHA)
    rows = table(written, "bandpower").query("block == 1 and band == 'alpha'")
    ours = rows.query("measure == 'selective' and place == 'cuneus-left'")["power"].item()
    expected = np.sum(measures.matrix("cuneus-left", "selective") * covariance)
    assert ours == pytest.approx(expected, rel=1e-4)


def test_relative_power_is_the_part_of_1_to_30_hz(written):
    rows = table(written, "bandpower").query("block == 1")
    parts = rows[rows["high_hz"] <= 30].groupby(["measure", "place"])["relative_power"].sum()
    np.testing.assert_allclose(parts, 1, rtol=1e-4)
    one = rows.query("place == 'O2' and band == 'alpha'").iloc[0]
    assert one["relative_power"] > 0.5
    assert one["power_low"] < one["power"] < one["power_high"]


def test_slopes_are_those_of_the_electrodes(written):
    """White noise: exponent 0; the tone of the occipital electrodes stands over it."""
    rows = table(written, "aperiodic")
    assert list(rows.columns) == APERIODIC_COLUMNS
    assert len(rows) == 2 * len(GOOD)
    assert rows.query("place == 'Cz'")["exponent"].abs().max() < 0.25
    assert rows["fit_high_hz"].unique() == pytest.approx([40])
    powers = table(written, "bandpower").query("block == 2 and band == 'alpha'")
    over = powers.set_index("place")["over_slope_db"]
    assert over["O2"] > 5 + over["Cz"]
    assert np.isnan(over["insula-right"]).all()


def test_kept_cross_spectra_give_the_table_s_powers(written):
    measures = load_region_measures(written / f"{STEM}_regions.npz")
    spectra, good = load_cross(written / f"{STEM}_cross.npz")
    assert list(good) == GOOD
    assert [item.block for item in spectra] == [1, 2]
    found = place_power(spectra[1].spectrum, measures.matrix("insula-right"), ALPHA)
    rows = table(written, "bandpower").query("block == 2 and band == 'alpha'")
    row = rows.query("measure == 'sloreta' and place == 'insula-right'").iloc[0]
    assert found.power == pytest.approx(row["power"], rel=1e-4)
    assert found.dof == pytest.approx(row["dof"], rel=1e-4)


@pytest.mark.parametrize("key", ["insula-right", "lateraloccipital-both"])
def test_regions_equal_welch_of_each_source_estimate(written, head, settings, key):
    """Every source's own time course through scipy, then the mean over the region."""
    inside = shipped_regions().members(key, head.region, head.hemisphere)
    kernel = good_kernel(head, GOOD, settings)[inside]
    courses = kernel @ baseline_uv() * 1e-6
    frequency, density = scipy.signal.welch(courses, RATE_HZ, "hann", 400)
    rows = table(written, "bandpower").query(
        f"block == 1 and measure == 'sloreta' and place == '{key}'"
    )
    ours = rows.set_index("band")["power"]["alpha"]
    theirs = sum_of_bins(density, frequency, ALPHA).mean()
    assert ours == pytest.approx(theirs, rel=1e-4)


def test_bad_spans_are_left_out(written):
    """3.25 s from 30 s on are bad and so is all from 59.5 s: 10 s and 26.25 s remain."""
    rows = table(written, "bandpower").query("block == 2")
    assert rows["seconds"].unique() == pytest.approx([10 + 26])
    assert rows["n_segments"].unique() == pytest.approx([9 + 25])
    power = rows[(rows["place"] == "Cz") & (rows["band"] == "beta")]["power"].item()
    first = table(written, "bandpower").query("block == 1 and place == 'Cz' and band == 'beta'")
    assert power == pytest.approx(first["power"].item(), rel=0.3)


def test_block_without_usable_segment_has_no_values(written):
    rows = table(written, "bandpower").query("block == 3")
    assert rows["power"].isna().all()
    assert rows["n_segments"].unique() == [0]
    assert 3 not in set(table(written, "spectra")["block"])


def test_band_that_the_recording_does_not_carry_is_not_given(written):
    """The recording ends at 40 Hz, the gamma band at 45 Hz."""
    rows = table(written, "bandpower").query("block == 1")
    assert rows.query("band == 'gamma'")["power"].isna().all()
    assert rows.query("band != 'gamma'")["power"].notna().all()
    text = (written / f"{STEM}_bandpower.tsv").read_text()
    assert "\t30\t45\tn/a\tn/a\tn/a\tn/a\tn/a\tn/a\tsLORETA^2\t" in text
    assert "\r" not in text


def test_spectra_equal_welch_of_scipy(written):
    rows = table(written, "spectra")
    assert list(rows.columns) == SPECTRA_COLUMNS
    frequency, density = scipy.signal.welch(baseline_uv(), RATE_HZ, "hann", 400)
    shown = (frequency >= 0.5) & (frequency <= 70)
    one = rows.query("block == 1 and electrode == 'O2'")
    np.testing.assert_allclose(one["frequency_hz"], frequency[shown])
    np.testing.assert_allclose(one["psd_uv2_per_hz"], density[GOOD.index("O2"), shown], rtol=1e-4)
    assert list(dict.fromkeys(rows["electrode"])) == GOOD


def test_measures_are_those_of_the_good_electrodes(written, head, settings):
    measures = load_region_measures(written / f"{STEM}_regions.npz")
    assert list(measures.good) == GOOD
    expected = matrix_for(head, GOOD, "fusiform-left", settings)
    np.testing.assert_array_equal(measures.matrix("fusiform-left"), expected)


def test_two_runs_give_the_same_bytes(written, model, tmp_path):
    clean, events = write_sitting(tmp_path)
    measure_sitting(clean, events, model, tmp_path / "again")
    for path in sorted(written.iterdir()):
        assert path.read_bytes() == (tmp_path / "again" / path.name).read_bytes()


def test_recording_without_a_good_electrode_is_refused(model, tmp_path):
    clean, events = write_sitting(tmp_path)
    sidecar = json.loads(clean.with_suffix(".json").read_text())
    raw = mne.io.read_raw_brainvision(clean, preload=True, verbose="ERROR").drop_channels(["Cz"])
    mne.export.export_raw(clean, raw, overwrite=True, verbose="ERROR")
    clean.with_suffix(".json").write_text(json.dumps(sidecar))
    with pytest.raises(AftersitError, match="lacks Cz, which its sidecar calls good; clean it"):
        measure_sitting(clean, events, model, tmp_path)
