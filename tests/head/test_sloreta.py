"""sLORETA against mne's own inverse solution and against its published properties."""

import numpy as np
import pytest

from aftersit.head.sloreta import reference_basis, sloreta_kernel

LAMBDA2 = (1e-6, 1e-2, 1 / 9)
NOISE_V = 0.2e-6


@pytest.mark.parametrize(("lambda2", "step"), [(1 / 9, 1), (1e-2, 5), (1e-6, 5)])
def test_a_single_source_is_found_where_it_is(head, lambda2, step):
    """Pascual-Marqui 2002: zero localisation error without noise, for each source."""
    kernel = sloreta_kernel(head.gain, lambda2)
    sources = np.arange(0, head.gain.shape[1], step)
    parts = np.array_split(sources, len(sources) // 250)
    peaks = [np.abs(kernel @ head.gain[:, part]).argmax(axis=0) for part in parts]
    np.testing.assert_array_equal(np.concatenate(peaks), sources)


def test_common_signal_is_not_heard(head):
    """The potential's reference is arbitrary: kernel times ones is zero."""
    kernel = sloreta_kernel(head.gain, 1 / 9)
    assert np.abs(kernel.sum(axis=1)).max() < 1e-12 * np.abs(kernel).max()


def test_reference_of_the_gain_does_not_matter(head):
    linked = head.gain - 0.5 * (head.gain[7] + head.gain[11])
    np.testing.assert_allclose(
        sloreta_kernel(linked, 1 / 9), sloreta_kernel(head.gain, 1 / 9), rtol=1e-6, atol=1e-3
    )


def test_scale_of_the_gain_does_not_matter(head):
    """lambda2 is relative to the gain's power (documentation of mne's inverse operator)."""
    np.testing.assert_allclose(
        sloreta_kernel(7 * head.gain, 1 / 9), sloreta_kernel(head.gain, 1 / 9), rtol=1e-9, atol=1e-6
    )


def test_unit_is_the_spread_that_the_model_expects(head):
    """Noise plus 1/lambda2 times as much signal of an even cortex: every estimate has spread 1."""
    lambda2, noise_v = 0.04, 0.5e-6
    centred = head.gain - head.gain.mean(axis=0)
    signal = centred @ centred.T
    signal *= 18 * noise_v**2 / lambda2 / np.trace(signal)
    expected = signal + noise_v**2 * (np.eye(19) - 1 / 19)
    kernel = sloreta_kernel(head.gain, lambda2, noise_v)
    spread = np.einsum("si,ij,sj->s", kernel, expected, kernel)
    np.testing.assert_allclose(spread, 1, rtol=1e-9)


@pytest.mark.parametrize("n", [2, 5, 19])
def test_basis_takes_the_average_reference_and_no_more(n):
    basis = reference_basis(n)
    np.testing.assert_allclose(basis @ basis.T, np.eye(n - 1), atol=1e-14)
    np.testing.assert_allclose(basis.T @ basis, np.eye(n) - 1 / n, atol=1e-14)
