"""Components: the fit against a known mixture, whitening, second voice, matrices."""

import numpy as np
import pytest
from simulated import NAMES, SETTINGS, blinks, quiet

from aftersit.clean import filters
from aftersit.clean.components import Removal, decompose, in_design, label_and_remove, whiten
from aftersit.clean.fit_copy import FitCopy, fit_copy
from aftersit.clean.second_voice import eye_voice
from aftersit.quality import Carried

LIMITS = SETTINGS.components
EVERYTHING = Carried(low_hz=0.5, high_hz=115)
NO_EOG = np.zeros((0, 60 * 256))


def test_a_fit_that_was_cut_short_says_so(with_blinks):
    """Picard (0.8) warns when it stops at its last iteration; the account must tell."""
    short = LIMITS.model_copy(update={"max_iterations": 3})
    found = decompose(with_blinks.x, short, 5)
    assert not label_and_remove(with_blinks, NAMES, found, EVERYTHING, short).converged
    assert removal(with_blinks).converged


def test_whitening_knows_the_rank():
    rng = np.random.default_rng(8)
    x = rng.standard_normal((7, 5000)) * np.arange(1, 8)[:, None]
    x -= x.mean(axis=0)
    whitening, colouring = whiten(x)
    assert whitening.shape == (6, 7)
    np.testing.assert_allclose(np.cov(whitening @ x, bias=True), np.eye(6), atol=2e-3)
    np.testing.assert_allclose(colouring @ whitening @ x, x, atol=1e-9)


@pytest.fixture(scope="module")
def with_blinks():
    recording = quiet(60)
    x = recording.x + blinks(recording, 120, 4)
    x = filters.band_pass(x - x.mean(axis=0), 256, 1, 100, 3)
    return FitCopy(x, NO_EOG, 256.0)


def removal(copy: FitCopy, holds: Carried = EVERYTHING) -> Removal:
    return label_and_remove(copy, NAMES, decompose(copy.x, LIMITS, 5), holds, LIMITS)


def test_blinks_go_and_the_back_of_the_head_stays(with_blinks):
    out = removal(with_blinks)
    assert [c.label for c in out.components if c.removed] == ["eye"]
    rest = out.keep @ with_blinks.x
    power = (with_blinks.x**2).mean(axis=1)
    left = (rest**2).mean(axis=1) / power
    assert left[NAMES.index("Fp1")] < 0.4
    assert left[NAMES.index("Pz")] > 0.9
    np.testing.assert_allclose(rest + out.eyes @ with_blinks.x, with_blinks.x, atol=1e-8)


def test_any_common_signal_changes_nothing(with_blinks):
    """Average reference: keep, muscle and eyes hold the common signal's direction at zero."""
    out = removal(with_blinks)
    for matrix in (out.keep, out.muscle, out.eyes):
        np.testing.assert_allclose(matrix @ np.ones(19), 0, atol=1e-10)
        np.testing.assert_allclose(np.ones(19) @ matrix, 0, atol=1e-10)


def test_the_same_seed_gives_the_same_bytes(with_blinks):
    assert removal(with_blinks).keep.tobytes() == removal(with_blinks).keep.tobytes()


def test_outside_the_networks_design_only_eyes_count(with_blinks):
    narrow = Carried(low_hz=0.5, high_hz=45)
    assert not in_design(256.0, narrow, LIMITS)
    assert not in_design(160.0, EVERYTHING, LIMITS)
    assert in_design(256.0, EVERYTHING, LIMITS)
    assert {c.label for c in removal(with_blinks, narrow).components if c.removed} == {"eye"}


def test_the_second_voice_knows_eyes_without_the_network(with_blinks):
    found = decompose(with_blinks.x, LIMITS, 5)
    activations = found.unmixing @ with_blinks.x
    voices = eye_voice(found.mixing, activations, with_blinks.x, NO_EOG, NAMES, 256.0, LIMITS)
    assert [v.speaks for v in voices].index(True) == 0
    assert sum(v.speaks for v in voices) == 1


def test_what_follows_an_eog_channel_is_eyes_wherever_it_lies():
    rng = np.random.default_rng(3)
    look = np.cumsum(rng.standard_normal(6000))
    look = filters.high_pass(look[None], 200.0, 0.5)[0]
    activations = np.vstack([rng.standard_normal(6000), look + 0.4 * look.std()])
    activations[1] += 0.4 * look.std() * rng.standard_normal(6000)
    mixing = rng.standard_normal((19, 2))
    x, eog = mixing @ activations, look[None] + 3 * rng.standard_normal((1, 6000))
    for channel, expected in ((eog, [False, True]), (NO_EOG[:, :6000], [False, False])):
        voices = eye_voice(mixing, activations, x, channel, NAMES, 200.0, LIMITS)
        assert [v.speaks for v in voices] == expected


def test_the_fit_sees_only_usable_seconds():
    recording = quiet(60)
    x = recording.x.copy()
    bad = np.zeros(x.shape[1], bool)
    bad[20 * 256 : 30 * 256] = True
    x[:, bad] += 5000 * np.random.default_rng(1).standard_normal((19, bad.sum()))
    copy = fit_copy(x, np.arange(19), NO_EOG, 256.0, bad, LIMITS)
    assert np.abs(copy.x).max() < 200
    assert 40 <= copy.duration_s <= 50


def test_too_little_signal_gives_nothing_to_remove():
    out = Removal.nothing(5)
    np.testing.assert_allclose(out.keep, np.eye(5) - 0.2)
    assert out.components == ()
