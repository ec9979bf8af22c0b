"""The closed form of nested spheres against simpler closed forms and mne's coefficients."""

import mne
import numpy as np
import pytest

from aftersit.bench.solvers import DEPTHS_MM, SHELLS, _library_sphere, mag, rdm
from aftersit.bench.sphere import Shells, shell_coefficients, sphere_potential

ONE = Shells((92.0,), (0.33,))


@pytest.fixture(scope="module")
def case():
    """Seven electrodes on a sphere of 92 mm; five dipoles of any direction."""
    rng = np.random.default_rng(14)
    electrodes, places = rng.normal(size=(7, 3)), rng.normal(size=(5, 3))
    electrodes *= 92 / np.linalg.norm(electrodes, axis=1, keepdims=True)
    places *= np.linspace(17, 73, 5)[:, None] / np.linalg.norm(places, axis=1, keepdims=True)
    return electrodes, places, rng.normal(size=(5, 3))


def test_one_shell_is_the_homogeneous_sphere(case):
    """Derivative of Neumann's function of the sphere (Frank 1952, J Appl Phys 23:1225)."""
    electrodes, places, moments = case
    step, radius = 1e-6, 0.092

    def neumann(place, electrode):
        distance = np.linalg.norm(electrode - place)
        inner = radius**2 - place @ electrode + radius * distance
        return 2 / distance - np.log(inner / (2 * radius**2)) / radius

    expected = np.empty((7, 5))
    for e, electrode in enumerate(electrodes / 1e3):
        for s, (place, moment) in enumerate(zip(places / 1e3, moments, strict=True)):
            way = step * moment / np.linalg.norm(moment)
            rise = neumann(place + way, electrode) - neumann(place - way, electrode)
            expected[e, s] = rise / (2 * step) * np.linalg.norm(moment) / (4 * np.pi * 0.33)
    found = sphere_potential(ONE, places, moments, electrodes)
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-7 * np.abs(expected).max())


def test_shells_of_one_conductivity_are_one_shell(case):
    electrodes, places, moments = case
    alike = Shells((79.0, 85.0, 92.0), (0.33, 0.33, 0.33))
    np.testing.assert_allclose(
        sphere_potential(alike, places, moments, electrodes),
        sphere_potential(ONE, places, moments, electrodes),
        rtol=1e-9,
    )


def test_coefficients_equal_those_of_mne():
    radii = [radius / SHELLS.radius_mm[-1] for radius in SHELLS.radius_mm]
    sphere = mne.make_sphere_model(
        (0, 0, 0), 0.092, relative_radii=radii, sigmas=SHELLS.conductivity_s_per_m, verbose="ERROR"
    )
    theirs = mne.bem._fwd_eeg_get_multi_sphere_model_coeffs(sphere, 61)
    np.testing.assert_allclose(shell_coefficients(SHELLS, np.arange(1, 61)), theirs, rtol=1e-10)


def test_sphere_of_mne_agrees_but_for_its_fit(case):
    """It fits a few dipoles in a homogeneous sphere to the shells (Berg & Scherg 1994)."""
    electrodes, places, moments = case
    exact = sphere_potential(SHELLS, places, moments, electrodes)
    theirs = _library_sphere(places, moments, electrodes)
    assert rdm(theirs, exact).max() < 0.02
    np.testing.assert_allclose(mag(theirs, exact), 1, atol=0.02)


def test_measures_of_error_are_those_of_the_literature():
    """Meijs et al. 1989: RDM(v, v) = 0, RDM(v, -v) = 2, RDM = sqrt(2 - 2 cos); MAG(2v, v) = 2."""
    rng = np.random.default_rng(6)
    one, other = rng.normal(size=(2, 9, 4))
    centred = [part - part.mean(axis=0) for part in (one, other)]
    cosine = np.sum(centred[0] * centred[1], axis=0)
    cosine /= np.linalg.norm(centred[0], axis=0) * np.linalg.norm(centred[1], axis=0)
    np.testing.assert_allclose(rdm(one, other), np.sqrt(2 - 2 * cosine), rtol=1e-12)
    np.testing.assert_allclose(rdm(one, 3 * one + 5), 0, atol=1e-12)
    np.testing.assert_allclose(rdm(one, -one), 2, rtol=1e-12)
    np.testing.assert_allclose(mag(2 * one + 7, one), 2, rtol=1e-12)


def test_depths_lie_inside_the_inner_skull():
    assert 0 < min(DEPTHS_MM) < max(DEPTHS_MM) < SHELLS.radius_mm[0]
