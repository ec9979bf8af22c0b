"""What head-model error does to a contrast: closed forms and simulation."""

import dataclasses

import numpy as np
import pytest

from aftersit.head.atlas import half_keys
from aftersit.head.region_set import RegionSet
from aftersit.head.sureness import sureness

KEYS = RegionSet()


@pytest.fixture(scope="module")
def matrices(measures):
    return measures.sloreta.matrices[: len(KEYS.keys)]


def found(matrices, good, heads, change_sd_db=3.0):
    return sureness(matrices, good, KEYS, heads, change_sd_db, 5)


def with_drawn(plausible, apart, in_step):
    return dataclasses.replace(plausible, drawn=apart[None], drawn_in_step=in_step[None])


def test_a_larger_head_of_the_same_form_changes_no_contrast(head, plausible, matrices):
    """A dipole's potential falls with the square of a conductor's size, alike everywhere."""
    larger = with_drawn(plausible, plausible.template / 1.1**4, plausible.template_in_step / 1.1**2)
    result = found(matrices, head.names, larger)
    assert result.spread_db.max() < 1e-9
    np.testing.assert_allclose(result.doubled_db[:, 1], result.doubled_db[:, 0], rtol=1e-9)


def test_reference_of_the_drawn_heads_does_not_matter(head, plausible, matrices):
    shift = np.eye(19) - np.eye(19)[[3]]
    moved = dataclasses.replace(
        plausible,
        drawn=shift @ plausible.drawn @ shift.T,
        drawn_in_step=plausible.drawn_in_step @ shift.T,
    )
    one, other = (found(matrices, head.names, heads) for heads in (plausible, moved))
    np.testing.assert_allclose(one.spread_db, other.spread_db, rtol=1e-6)


def test_doubling_a_region_shows_by_its_purity(head, plausible, measures, matrices):
    """Closed form: with a part p from the region the measure rises by 10 log10(1 + p)."""
    result = found(matrices, head.names, plausible)
    purity = measures.sloreta.purity[: len(KEYS.keys)]
    # Purity counts noise in: 0.1 % of the electrodes' power, up to 8 dB more in a measure.
    np.testing.assert_allclose(result.doubled_db[:, 0], 10 * np.log10(1 + purity), rtol=7e-3)
    lowest, highest = result.doubled_db[:, 1:].T
    assert (lowest < result.doubled_db[:, 0]).mean() > 0.8
    assert (highest > lowest).all()


def test_spread_of_one_measure_by_hand(head, plausible, measures):
    """One head off: contrast through it less contrast through the template, pattern by pattern."""
    heads = with_drawn(plausible, plausible.drawn[2], plausible.drawn_in_step[2])
    rng = np.random.default_rng(5)
    powers = 10 ** (rng.normal(scale=3.0, size=(68, 400)) / 10)
    i = measures.index("cuneus-left")
    matrix = measures.sloreta.matrices[i]
    errors = []
    for here, there in (
        (plausible.template, plausible.drawn[2]),
        (outer(plausible.template_in_step), outer(plausible.drawn_in_step[2])),
    ):
        contrasts = []
        for halves in (here, there):
            heard = np.array([np.trace(matrix @ halves[h]) for h in range(len(half_keys()))])
            contrasts.append(10 * np.log10(heard @ powers / heard.sum()))
        errors.append(np.sqrt(np.mean((contrasts[1] - contrasts[0]) ** 2)))
    result = found(measures.sloreta.matrices[: len(KEYS.keys)], head.names, heads)
    assert result.spread_db[i] == pytest.approx(max(errors), rel=1e-9)


def outer(in_step):
    return in_step[:, :, None] * in_step[:, None, :]


def test_larger_changes_make_larger_errors(head, plausible, matrices):
    small, large = (found(matrices, head.names, plausible, sd).spread_db for sd in (1.0, 4.0))
    assert (large > 2 * small).all()


def test_without_drawn_heads_nothing_is_claimed(head, settings):
    from aftersit.head.regions import region_measures

    few = region_measures(head, head.names[4:12], settings, RegionSet())
    assert few.heard("insula-right").contrast_spread_db is None
    assert few.heard("insula-right").coverage > 0
