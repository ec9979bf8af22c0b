"""The picture of where a measure comes from."""

import io

import numpy as np
import pytest
from matplotlib.image import imread

from aftersit.errors import AftersitError
from aftersit.head.brainmap import COLOURS, LEVELS, _steps, brain_map, source_shares
from aftersit.head.regions import region_measures

KEY = "lateraloccipital-right"


@pytest.fixture(scope="module")
def measures(head, settings):
    return region_measures(head, head.names, settings)


def test_sources_of_the_region_add_up_to_its_purity(head, measures):
    shares = source_shares(head, measures.matrix(KEY))
    inside = (head.region == "lateraloccipital") & (head.hemisphere == "right")
    assert shares.sum() == pytest.approx(1)
    assert shares[inside].sum() == pytest.approx(measures.purity[measures.index(KEY)], rel=1e-9)


def test_steps_add_up_to_their_levels():
    shares = np.random.default_rng(7).gamma(0.4, size=5000)
    steps = _steps(shares)
    for step, level in enumerate(LEVELS):
        assert shares[steps <= step].sum() / shares.sum() == pytest.approx(level, abs=2e-3)
    assert shares[steps == 0].min() > shares[steps == 1].max()
    assert len(COLOURS) == len(LEVELS) + 1


def test_picture_is_dark_on_the_side_of_its_region(head, measures):
    picture = imread(io.BytesIO(brain_map(head, KEY, source_shares(head, measures.matrix(KEY)))))
    dark = picture[..., :3].sum(axis=2) < 1.0
    left_outside, _, _, right_outside = (part.sum() for part in np.array_split(dark, 4, axis=1))
    assert right_outside > 3 * left_outside


def test_same_input_gives_the_same_bytes(head, measures):
    shares = source_shares(head, measures.matrix(KEY))
    assert brain_map(head, KEY, shares) == brain_map(head, KEY, shares)


def test_unknown_region_is_refused(head):
    with pytest.raises(AftersitError, match="no region measure 'occipital-right'"):
        brain_map(head, "occipital-right", np.ones(len(head.vertex)))
