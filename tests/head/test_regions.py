"""Region measures against mne's inverse solution, closed forms and physics."""

import dataclasses

import mne
import numpy as np
import pytest
from mne_reference import mne_inverse

from aftersit.errors import AftersitError
from aftersit.head.cortex import even_cortex
from aftersit.head.hearing import purities
from aftersit.head.measures import load_region_measures, save_region_measures
from aftersit.head.region_set import RegionSet
from aftersit.head.regions import good_kernel, matrix_for, region_measures
from aftersit.head.selective import trade

WITHOUT_FIVE = [
    *("Fp1", "Fp2", "F3", "Fz", "F4", "F8", "T7", "C3", "Cz", "C4", "P7", "Pz", "P4", "O1")
]
OPPOSITE = [1, 0, 6, 5, 4, 3, 2, 11, 10, 9, 8, 7, 16, 15, 14, 13, 12, 18, 17]
"""Rows of the electrodes across the midline, in the standard order."""


@pytest.fixture(scope="module")
def signal() -> np.ndarray:
    """Random potentials of 19 electrodes in volts, unlike in size and correlated."""
    rng = np.random.default_rng(20)
    return rng.normal(size=(19, 19)) @ rng.normal(scale=3e-6, size=(19, 40))


def power(matrix: np.ndarray, signal: np.ndarray) -> np.ndarray:
    return np.einsum("it,ij,jt->t", signal, matrix, signal)


def mne_region_power(head, forward, signal, settings, good) -> dict[str, np.ndarray]:
    """Mean squared source estimate over each region's label vertices, all by mne."""
    estimate = mne_inverse(forward, signal, settings.lambda2, 0.2e-6, good)
    squared = estimate.copy()
    squared.data = estimate.data**2
    found = {}
    for key in RegionSet().keys:
        name, _, side = key.rpartition("-")
        sides = ("left", "right") if side == "both" else (side,)
        inside = [_in_label(squared, head, name, one) for one in sides]
        found[key] = np.concatenate(inside).mean(axis=0)
    return found


def _in_label(estimate, head, name: str, side: str) -> np.ndarray:
    vertices = head.vertex[(head.region == name) & (head.hemisphere == side)]
    label = mne.Label(vertices, hemi=f"{side[0]}h", name=name, subject="fsaverage")
    return estimate.in_label(label).data


@pytest.mark.parametrize("good", [None, WITHOUT_FIVE], ids=["all", "fourteen"])
def test_every_region_measure_equals_mne(head, mne_forward, settings, signal, good):
    good = list(good or head.names)
    rows = [head.names.index(name) for name in good]
    theirs = mne_region_power(head, mne_forward, signal[rows], settings, good)
    ours = region_measures(head, good, settings, RegionSet())
    assert set(theirs) == set(ours.keys)
    assert len(theirs) == 34 * 3
    for key, expected in theirs.items():
        np.testing.assert_allclose(power(ours.matrix(key), signal[rows]), expected, rtol=1e-6)


KINDS = pytest.mark.parametrize("kind", ["sloreta", "selective"])


@KINDS
def test_matrices_are_symmetric_and_never_negative(measures, kind):
    matrices = measures.of(kind).matrices
    largest = np.abs(matrices).max()
    np.testing.assert_allclose(matrices, matrices.transpose(0, 2, 1), rtol=0, atol=1e-12 * largest)
    lowest, highest = np.linalg.eigvalsh(matrices)[:, [0, -1]].T
    assert (lowest > -1e-12 * highest).all()


@KINDS
def test_common_signal_changes_nothing(measures, signal, kind):
    common = np.random.default_rng(1).normal(scale=1e-3, size=signal.shape[1])
    for matrix in measures.of(kind).matrices:
        without = power(matrix, signal)
        atol = 1e-8 * without.max()
        np.testing.assert_allclose(power(matrix, signal + common), without, rtol=1e-6, atol=atol)


@KINDS
def test_doubled_signal_has_four_times_the_power(measures, signal, kind):
    matrix = measures.matrix("precuneus-left", kind)
    np.testing.assert_allclose(power(matrix, 2 * signal), 4 * power(matrix, signal), rtol=1e-12)


@KINDS
def test_a_mirrored_head_mirrors_the_map(head, settings, measures, signal, kind):
    """Left and right exchanged in sources and electrodes: each side's measure moves across."""
    other = {"left": "right", "right": "left"}
    mirrored = dataclasses.replace(
        head,
        gain=head.gain[OPPOSITE],
        hemisphere=np.array([other[side] for side in head.hemisphere]),
    )
    found = region_measures(mirrored, head.names, settings)
    for key in ("insula-left", "precentral-right", "superiorfrontal-both"):
        name, _, side = key.rpartition("-")
        there = power(found.matrix(f"{name}-{other.get(side, side)}", kind), signal[OPPOSITE])
        np.testing.assert_allclose(there, power(measures.matrix(key, kind), signal), rtol=1e-5)


def test_both_sides_are_the_mean_over_all_sources_of_both(head, measures, signal):
    n = {s: ((head.region == "insula") & (head.hemisphere == s)).sum() for s in ("left", "right")}
    left, right, both = (power(measures.matrix(f"insula-{s}"), signal) for s in (*n, "both"))
    expected = (n["left"] * left + n["right"] * right) / (n["left"] + n["right"])
    assert n["left"] != n["right"]
    np.testing.assert_allclose(both, expected, rtol=1e-10)


@KINDS
@pytest.mark.parametrize("key", ["insula-right", "cuneus-both", "precentral-left"])
def test_purity_is_what_an_evenly_active_cortex_gives(head, measures, key, kind):
    """By simulation: independent activity of equal size everywhere, and in the region alone."""
    rng = np.random.default_rng(33)
    name, _, side = key.rpartition("-")
    inside = (head.region == name) & ((head.hemisphere == side) | (side == "both"))
    activity = rng.normal(size=(inside.size, 4000)).astype(np.float32)
    everywhere = head.gain @ activity
    alone = head.gain[:, inside] @ activity[inside]
    matrix = measures.matrix(key, kind)
    share = power(matrix, alone).mean() / power(matrix, everywhere).mean()
    # 4000 draws of a sum with at least one degree of freedom: error sqrt(2 * 2 / 4000).
    assert measures.heard(key, kind).purity == pytest.approx(share, rel=0.1)


@KINDS
def test_shares_of_region_and_neighbours_are_parts_of_one_whole(measures, kind):
    found = measures.of(kind)
    assert (found.purity + found.neighbour_shares.sum(axis=1) < 1).all()
    assert (np.diff(found.neighbour_shares, axis=1) <= 0).all()
    for key in measures.keys:
        names = [name for name, _ in measures.heard(key, kind).neighbours]
        own = measures.regions.parts[key.rpartition("-")[0]]
        assert {name.rpartition("-")[0] for name in names}.isdisjoint(own) or "-both" not in key
        assert key not in names
        assert all(name.endswith("both") == key.endswith("both") for name in names)


def test_no_measure_is_purer_than_its_limit(measures):
    assert (measures.sloreta.purity < measures.limit).all()
    assert (measures.selective.purity < measures.limit * (1 + 1e-9)).all()
    assert (measures.limit < 1).all()


@pytest.mark.parametrize(
    ("key", "purity", "limit"),
    [
        ("insula-right", 0.05, 0.08),
        ("lateraloccipital-both", 0.38, 0.74),
        ("caudalanteriorcingulate-both", 0.025, 0.038),
    ],
)
def test_purities_stay_what_the_pages_say(measures, key, purity, limit):
    """Own computation; they guard against an unnoticed change of the head model."""
    heard = measures.heard(key)
    assert heard.purity == pytest.approx(purity, rel=0.1)
    assert heard.limit == pytest.approx(limit, rel=0.1)


def test_measure_hears_its_own_side_more(measures, head):
    """A source in the middle of a left region gives more left than right, and so mirrored."""
    for region in ("precentral", "superiortemporal", "lateraloccipital", "insula"):
        for side, other in (("left", "right"), ("right", "left")):
            inside = (head.region == region) & (head.hemisphere == side)
            cov = head.gain[:, inside] @ head.gain[:, inside].T
            own = np.sum(measures.matrix(f"{region}-{side}") * cov)
            assert own > 1.5 * np.sum(measures.matrix(f"{region}-{other}") * cov)


def test_each_dropped_electrode_lowers_mean_purity_and_every_limit(head, settings):
    """Song et al. 2015, J Neurosci Methods 256:9: more electrodes, more accuracy."""
    sets = [head.names, *([n for n in head.names if n != dropped] for dropped in head.names)]
    purities, limits = zip(*(purity_and_limit(head, good, settings) for good in sets), strict=True)
    assert max(purity.mean() for purity in purities[1:]) < purities[0].mean()
    # A filter may ignore an electrode; only the noise's part differs, by under 1 %.
    assert (np.array(limits[1:]) < 1.01 * limits[0]).all()
    fewer = [purity_and_limit(head, WITHOUT_FIVE[:n], settings)[0].mean() for n in (14, 8)]
    assert fewer[1] < fewer[0] < min(purity.mean() for purity in purities)


def purity_and_limit(head, good, settings) -> tuple[np.ndarray, np.ndarray]:
    """Of all sLORETA measures, without the selective ones."""
    cortex = even_cortex(head, good, settings.limit_noise_share)
    kernel, regions = good_kernel(head, good, settings), RegionSet()
    rows = [kernel[regions.members(k, head.region, head.hemisphere)] for k in regions.keys]
    matrices = np.stack([part.T @ part / len(part) for part in rows])
    return purities(matrices, regions.keys, regions, cortex), trade(
        cortex, regions.keys, regions
    ).limit


def test_order_of_electrodes_does_not_matter(head, settings, measures, signal):
    order = np.random.default_rng(2).permutation(19)
    shuffled = matrix_for(head, [head.names[i] for i in order], "cuneus-right", settings)
    np.testing.assert_allclose(
        power(shuffled, signal[order]), power(measures.matrix("cuneus-right"), signal), rtol=1e-9
    )


@KINDS
@pytest.mark.parametrize("key", ["insula-right", "bankssts-both"])
def test_single_matrix_equals_the_one_among_all(head, settings, measures, key, kind):
    single, among_all = (
        matrix_for(head, head.names, key, settings, kind),
        measures.matrix(key, kind),
    )
    np.testing.assert_allclose(single, among_all, rtol=0, atol=1e-9 * np.abs(among_all).max())


def test_kernel_of_good_electrodes_takes_their_own_average(head, settings):
    kernel = good_kernel(head, WITHOUT_FIVE, settings)
    assert kernel.shape == (len(head.vertex), 14)
    assert np.abs(kernel.sum(axis=1)).max() < 1e-12 * np.abs(kernel).max()


def test_saved_measures_are_the_same_bytes_and_come_back(measures, tmp_path):
    for name in ("one.npz", "two.npz"):
        save_region_measures(measures, tmp_path / name)
    assert (tmp_path / "one.npz").read_bytes() == (tmp_path / "two.npz").read_bytes()
    loaded = load_region_measures(tmp_path / "one.npz")
    assert (loaded.regions, loaded.good) == (measures.regions, measures.good)
    for part in ("sloreta", "selective", "curve", "sloreta_sureness", "selective_sureness"):
        for field in dataclasses.fields(getattr(measures, part)):
            ours, kept = (getattr(getattr(m, part), field.name) for m in (measures, loaded))
            np.testing.assert_array_equal(kept, ours)
    np.testing.assert_array_equal(loaded.covariance, measures.covariance)
    assert loaded.heard("insula-right", "selective") == measures.heard("insula-right", "selective")


def test_unknown_region_names_the_nearest(measures):
    with pytest.raises(AftersitError, match=r"no region measure 'insul-right'.*insula-right"):
        measures.matrix("insul-right")


@pytest.mark.parametrize(
    ("good", "message"),
    [
        (["Cz", "A1"], "no electrode A1; it has Fp1, Fp2"),
        (["Cz", "Pz", "Cz"], "each once; found Cz, Pz, Cz"),
        (["Cz"], "at least two electrodes, each once; found Cz"),
    ],
)
def test_electrodes_that_cannot_serve(head, settings, good, message):
    with pytest.raises(AftersitError, match=message):
        region_measures(head, good, settings)
