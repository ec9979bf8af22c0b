"""The control that moves thresholds tells what the replay itself gives with them."""

import dataclasses
import math

import pytest
import samples
from browser import Watched, chromium
from cases import BLOCKS, condition, protocol, quality, replay, sitting

from aftersit.pages.clinician import Clinician
from aftersit.pages.inputs import Replayed
from aftersit.pages.words import load_words

pytestmark = pytest.mark.slow

STEP_DB = 0.1
SPANS = ((27.3, 29.8, "movement"), (61.0, 61.7, "pop"))
TIMING = {"onset_s": 0.375, "release_s": 0.5, "warm_up_s": 2.5}


def conditions(alpha_steps: int = 0, temples_steps: int = 0) -> tuple[dict, ...]:
    """Rules with their thresholds tightened by this many steps, written as people would."""
    alpha = condition("alpha", db_over_baseline=-0.5 + alpha_steps * STEP_DB)
    temples = condition(
        "temples",
        {"electrodes": ["T7", "T8"]},
        (20, 30),
        "below",
        absolute=15.0 * 10 ** (-temples_steps * STEP_DB / 10),
    )
    slow = condition("slow", {"electrodes": ["Cz"]}, (4, 7), percentile_of_baseline=40)
    return alpha, temples, slow


def rules(*moves, combine):
    return protocol(*conditions(*moves), combine=combine, **TIMING)


SITTING = sitting(found=quality(spans=SPANS))
MOVES = [(0, 0), (7, 0), (-13, 0), (0, 4), (11, -9), (-60, -60), (60, 3), (-23, 18)]
COMBINED = ["all", {"at_least": 2}, "any"]


@pytest.fixture(scope="module")
def browser():
    with chromium() as found:
        yield found


def page_inputs(used):
    found = replay(SITTING, used)
    shown = Replayed(found.record, used, found.timelines["cleaned"], found.timelines["uncleaned"])
    return dataclasses.replace(
        samples.scored(), replays=(shown,), quality=SITTING.quality, blocks=BLOCKS, spectra=None
    )


@pytest.fixture(scope="module", params=COMBINED, ids=str)
def opened(request, browser, tmp_path_factory):
    inputs = page_inputs(rules(combine=request.param))
    path = tmp_path_factory.mktemp("control") / "clinician.html"
    path.write_text(Clinician(inputs, load_words("en").cautions).html(), encoding="utf-8")
    watched = Watched(browser)
    watched.open(path)
    yield watched, request.param
    watched.close()


def move(tab, *steps):
    for i, value in enumerate(steps):
        slider = tab.locator(f"#control1-{i}")
        slider.evaluate(
            "(e, v) => { e.value = v; e.dispatchEvent(new Event('input')); }", str(value)
        )


def shown(tab, kind: str) -> list[tuple[float, float, float]]:
    cells = [
        tab.locator(f"#control1 [data-number={kind}-{number}]").evaluate_all(
            "all => all.map(e => e.dataset.value === '' ? null : Number(e.dataset.value))"
        )
        for number in ("share", "bouts", "longest")
    ]
    return list(zip(*cells, strict=True))


def replayed(used) -> list[tuple[float, float, float]]:
    """Share, bouts and longest of the replay itself: of all blocks, then of each."""
    result = replay(SITTING, used).record.cleaned
    rows = [(result.in_target_share, result.bouts_total, result.longest_bout_s)]
    return rows + [
        (b.in_target_share, b.bouts, b.longest_bout_s) for b in result.blocks if b.scored
    ]


def same(found, expected) -> bool:
    pairs = zip(
        (v for row in found for v in row), (v for row in expected for v in row), strict=True
    )
    return all(
        a is b if None in (a, b) else math.isclose(a, b, rel_tol=0, abs_tol=1e-9) for a, b in pairs
    )


@pytest.mark.parametrize("moves", MOVES, ids=str)
def test_numbers_equal_a_replay_with_those_thresholds(opened, moves):
    watched, combine = opened
    move(watched.tab, *moves, 0)
    expected = replayed(rules(*moves, combine=combine))
    assert same(shown(watched.tab, "now"), expected), (shown(watched.tab, "now"), expected)
    assert same(shown(watched.tab, "was"), replayed(rules(combine=combine)))


def test_the_moves_really_change_what_is_rewarded():
    rates = {replayed(rules(*moves, combine="all"))[0][0] for moves in MOVES}
    assert len(rates) > 4


def test_a_percentile_of_the_baseline_moves_too(opened):
    watched, _ = opened
    before = shown(watched.tab, "now")
    move(watched.tab, 0, 0, -40)
    assert shown(watched.tab, "now") != before
    watched.tab.get_by_role("button", name="Back to how it was").click()
    assert shown(watched.tab, "now") == shown(watched.tab, "was")


def test_the_control_draws_and_asks_for_nothing(opened):
    watched, _ = opened
    drawn = watched.tab.locator("#control1 canvas")
    assert drawn.count() == 4
    inked = drawn.nth(1).evaluate(
        "c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some(v => v > 0)"
    )
    assert inked
    assert watched.asked == []
    assert watched.troubles == []


def test_keys_move_a_slider_and_it_says_where_it_stands(opened):
    watched, _ = opened
    move(watched.tab, 0, 0, 0)
    slider = watched.tab.get_by_role("slider").first
    slider.press("ArrowRight")
    slider.press("ArrowRight")
    assert slider.get_attribute("aria-valuetext").startswith("0.2\xa0dB stricter; in target ")


def test_without_scripts_the_page_says_what_is_missing(opened, browser, tmp_path):
    path = tmp_path / "clinician.html"
    inputs = page_inputs(rules(combine="all"))
    path.write_text(Clinician(inputs, load_words("en").cautions).html(), encoding="utf-8")
    watched = Watched(browser, java_script_enabled=False)
    watched.open(path)
    assert watched.tab.get_by_text("It needs JavaScript, which is off.").is_visible()
    assert not watched.tab.locator("#control1").is_visible()
    watched.close()
