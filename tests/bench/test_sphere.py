"""The closed form of nested spheres against simpler closed forms and mne's coefficients."""

import numpy as np
import pytest

from aftersit.bench.solvers import DEPTHS_MM, SHELLS, _library_sphere, mag, rdm
from aftersit.bench.sphere import Shells, sphere_potential

ONE = Shells((92.0,), (0.33,))


@pytest.fixture(scope="module")
def case():
    """Seven electrodes on a sphere of 92 mm; five dipoles of any direction."""
    rng = np.random.default_rng(14)
    electrodes, places = rng.normal(size=(7, 3)), rng.normal(size=(5, 3))
    electrodes *= 92 / np.linalg.norm(electrodes, axis=1, keepdims=True)
    places *= np.linspace(17, 73, 5)[:, None] / np.linalg.norm(places, axis=1, keepdims=True)
    return electrodes, places, rng.normal(size=(5, 3))


def test_shells_of_one_conductivity_are_one_shell(case):
    electrodes, places, moments = case
    alike = Shells((79.0, 85.0, 92.0), (0.33, 0.33, 0.33))
    np.testing.assert_allclose(
        sphere_potential(alike, places, moments, electrodes),
        sphere_potential(ONE, places, moments, electrodes),
        rtol=1e-9,
    )


def test_sphere_of_mne_agrees_but_for_its_fit(case):
    """It fits a few dipoles in a homogeneous sphere to the shells (Berg & Scherg 1994)."""
    electrodes, places, moments = case
    exact = sphere_potential(SHELLS, places, moments, electrodes)
    theirs = _library_sphere(places, moments, electrodes)
    assert rdm(theirs, exact).max() < 0.02
    np.testing.assert_allclose(mag(theirs, exact), 1, atol=0.02)


def test_depths_lie_inside_the_inner_skull():
    assert 0 < min(DEPTHS_MM) < max(DEPTHS_MM) < SHELLS.radius_mm[0]
