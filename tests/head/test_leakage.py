"""Co-variation of measures by leakage alone, against simulation and a closed form."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from aftersit.head.leakage import co_variation


def random_forms(seed: int, n: int = 6, count: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """Some positive semidefinite matrices of unlike rank, and a covariance."""
    rng = np.random.default_rng(seed)
    forms = [(w := rng.normal(size=(n, rank + 1))) @ w.T for rank in range(count)]
    mixing = rng.normal(size=(n, n))
    return np.stack(forms), mixing @ mixing.T


def test_equals_the_correlation_of_simulated_band_powers():
    """Powers over windows of band-limited noise that no two sources share."""
    rng = np.random.default_rng(12)
    forms, covariance = random_forms(5)
    white = rng.normal(size=(6, 4000, 30))
    signal = np.einsum("ij,jtk->itk", np.linalg.cholesky(covariance), white)
    powers = np.einsum("itk,mij,jtk->mt", signal, forms, signal, optimize=True)
    # 4000 windows: standard error (1 - r^2) / sqrt(4000).
    np.testing.assert_allclose(co_variation(forms, covariance), np.corrcoef(powers), atol=0.05)


@given(seed=st.integers(0, 10_000), scale=st.floats(1e-12, 1e12))
def test_units_do_not_matter_and_nothing_leaves_its_range(seed, scale):
    forms, covariance = random_forms(seed)
    found = co_variation(forms, covariance)
    np.testing.assert_allclose(np.diag(found), 1, rtol=1e-12)
    np.testing.assert_allclose(found, found.T, rtol=1e-9)
    assert ((found > -1e-9) & (found < 1 + 1e-9)).all()
    np.testing.assert_allclose(co_variation(scale * forms, covariance), found, rtol=1e-6)


def test_neighbours_move_together_more_than_far_regions(measures):
    keys = ("insula-right", "superiortemporal-right", "lateraloccipital-left")
    found = measures.co_variation([measures.matrix(key) for key in keys])
    assert found[0, 1] > 0.6 > 0.3 > found[0, 2]
