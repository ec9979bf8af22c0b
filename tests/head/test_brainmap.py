"""The picture of where a measure comes from."""

import io

import numpy as np
import pytest
from matplotlib.image import imread

from aftersit.head.brainmap import COLOURS, LEVELS, _steps, brain_map, source_shares

KEY = "lateraloccipital-right"


@pytest.fixture(scope="module")
def inside(head):
    return (head.region == "lateraloccipital") & (head.hemisphere == "right")


def test_sources_of_the_region_add_up_to_its_purity(head, measures, inside):
    shares = source_shares(head, measures.matrix(KEY))
    assert shares.sum() == pytest.approx(1)
    # The noise that purity counts in is 0.1 % of the electrodes' power, 4.5 dB more here.
    purity = measures.heard(KEY).purity
    assert purity < shares[inside].sum() < 1.004 * purity


def test_steps_add_up_to_their_levels():
    shares = np.random.default_rng(7).gamma(0.4, size=5000)
    steps = _steps(shares)
    for step, level in enumerate(LEVELS):
        assert shares[steps <= step].sum() / shares.sum() == pytest.approx(level, abs=2e-3)
    assert shares[steps == 0].min() > shares[steps == 1].max()
    assert len(COLOURS) == len(LEVELS) + 1


def test_picture_is_dark_on_the_side_of_its_region(head, measures, inside):
    shares = source_shares(head, measures.matrix(KEY))
    picture = imread(io.BytesIO(brain_map(head, inside, shares)))
    dark = picture[..., :3].sum(axis=2) < 1.0
    left_outside, _, _, right_outside = (part.sum() for part in np.array_split(dark, 4, axis=1))
    assert right_outside > 3 * left_outside


def test_same_input_gives_the_same_bytes(head, measures, inside):
    shares = source_shares(head, measures.matrix(KEY))
    assert brain_map(head, inside, shares) == brain_map(head, inside, shares)
