"""The report's sentences and numbers: equal to the record's, true to the settings."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
import sample_given
import samples
from scipy import integrate

from aftersit.findings import Change
from aftersit.muscle import yardstick
from aftersit.pages import format as fmt
from aftersit.pages import reasons
from aftersit.pages.answers import answer_all
from aftersit.pages.answers_change import is_clear, leaves_out_zero
from aftersit.pages.answers_reward import deciding_shares, several_share
from aftersit.pages.clinician import Clinician
from aftersit.pages.figures_reward import parts_of
from aftersit.pages.figures_timeline import relative_db, thinned
from aftersit.pages.methods import write_methods

SPACE = fmt.SPACE


@pytest.fixture(scope="module")
def inputs():
    return samples.scored()


def answers(of) -> dict[str, str]:
    """Question -> lead and details in one text."""
    return {
        a.question: " ".join((a.lead, *a.details)).replace(SPACE, " ")
        for group in answer_all(of)
        for a in group.answers
    }


# Numbers


@pytest.mark.parametrize(
    ("made", "expected"),
    [
        (fmt.db(2.449), "+2.4 dB"),
        (fmt.db(-0.31), "−0.3 dB"),
        (fmt.db(-0.04), "0.0 dB"),
        (fmt.db(None), "—"),
        (fmt.interval_db(-0.8, 1.62), "−0.8 to +1.6 dB"),
        (fmt.percent(0.244), "24 %"),
        (fmt.percent(0.0), "0 %"),
        (fmt.percent(0.002), "under 1 %"),
        (fmt.percent(0.997), "over 99 %"),
        (fmt.interval_percent(0.124, 0.386), "12 to 39 %"),
        (fmt.interval_percent(-0.021, 0.31, signed=True), "−2 to +31 %"),
        (fmt.interval_percent(None, 0.31), "—"),
        (fmt.probability(0.0004), "under 0.001"),
        (fmt.probability(0.0071), "0.007"),
        (fmt.probability(0.234), "0.23"),
        (fmt.length(7.84), "7.8 s"),
        (fmt.length(41.4), "41 s"),
        (fmt.length(59.7), "1 min"),
        (fmt.length(767.0), "12 min 47 s"),
        (fmt.span(125.9, 390.0), "02:05–06:30"),
        (fmt.band((8.0, 13.5)), "8–13.5 Hz"),
        (fmt.significant(0.00001234), "1.23·10⁻⁵"),
        (fmt.significant(12.346), "12.3"),
        (fmt.join(["a", "b", "c"]), "a, b and c"),
        (fmt.count(0, "bout"), "no bouts"),
        (fmt.region("parsorbitalis-right"), "right pars orbitalis"),
        (fmt.place("T7+T8", "electrodes"), "electrodes T7 and T8"),
        (fmt.unit("uV^2"), "µV²"),
    ],
)
def test_numbers_are_written_with_sign_and_unit(made, expected):
    assert made.replace(SPACE, " ") == expected


def test_every_atlas_region_with_a_joined_name_has_words():
    """Names as in the shared table of regions: none of its long ones is printed run together."""
    assert all(" " in words for words in fmt.REGION_WORDS.values())


# The summary against the record


def test_time_in_target_equals_the_record(inputs):
    result = inputs.record.cleaned
    text = answers(inputs)["When was the client in the target state?"]
    assert text.startswith(f"{result.in_target_share * 100:.0f} % of the time")
    assert f"in {result.bouts_total} bouts, the longest {result.longest_bout_s:.1f} s" in text
    assert f"{inputs.record.uncleaned.in_target_share * 100:.0f} % in" in text
    assert "31 % of that reward time is gone after cleaning" in text


def test_the_deciding_condition_is_weighted_by_unrewarded_time(inputs):
    """Against a count over the timeline itself, not over the record's shares."""
    table = inputs.replays[0].cleaned
    off = table[table["state"] == "no-reward"]
    failing = ~off[[f"{c.name}_met" for c in inputs.record.conditions]]
    alone = failing.sum(axis=1) == 1
    shares = deciding_shares(inputs.record.cleaned)
    for c in inputs.record.conditions:
        assert shares[c.name] == pytest.approx((failing[f"{c.name}_met"] & alone).mean(), abs=1e-9)
    assert several_share(inputs.record.cleaned) == pytest.approx((failing.sum(axis=1) > 1).mean())


def test_parts_of_a_block_add_up(inputs):
    for block in inputs.record.cleaned.blocks:
        if block.scored:
            parts = parts_of(block)
            assert sum(share for _, share in parts) == pytest.approx(1)
            assert parts[0] == ("in target", pytest.approx(block.in_target_share))


def test_a_threshold_out_of_reach_says_how_far(inputs):
    missed = samples.out_of_reach()
    nearest = max(
        c.highest_db
        for b in missed.record.cleaned.blocks
        for c in b.conditions
        if c.name == "insula-gamma"
    )
    text = answers(missed)["Was a threshold out of reach?"]
    assert text.startswith("Yes: insula-gamma was never met.")
    assert f"its nearest point stayed {-nearest:.1f} dB short" in text
    assert answers(inputs)["Was a threshold out of reach?"].startswith("No:")


def test_a_change_over_a_break_has_its_interval_and_no_cause(inputs):
    text = answers(inputs)["What changed after each break?"]
    assert "insula-gamma: +2.5 dB (95 % interval +1.1 to +3.9 dB)." in text
    assert "cingulate-alpha: +0.4 dB (95 % interval −0.8 to +1.6 dB); no clear change." in text
    assert text.startswith(
        "insula-gamma rose by 2.5 dB (95 % interval +1.1 to +3.9 dB); in target 15 % before, "
        "33 % after. A change, not its cause. "
    )


@pytest.mark.parametrize(
    ("low", "high", "leaves_out"), [(0.2, 1.9, True), (-1.9, -0.2, True), (-0.2, 1.9, False)]
)
def test_a_change_is_clear_when_it_holds_and_its_interval_leaves_out_zero(low, high, leaves_out):
    figures = {"before_db": 1.0, "after_db": 2.0, "change_db": 1.0, "low_db": low, "high_db": high}
    assert leaves_out_zero(Change(condition="a", **figures)) is leaves_out
    assert not is_clear(Change(condition="a", **figures))
    if leaves_out:
        assert is_clear(Change(condition="a", clear=True, **figures))


def test_muscle_and_neighbours_are_told(inputs):
    text = answers(inputs)["Brain or muscle?"]
    assert "2 muscle components were removed" in text
    assert "2 muscle (19 %) and 1 eye (22 %)" in text
    assert "Seen from the direction of the right insula: the region itself gives 5 %" in text
    assert "right superior temporal 11 % and right pars orbitalis 7 %" in text
    assert "3 times or more above muscle-free gamma at T7" in text


def muscle_lead(inputs, components, **changes) -> str:
    quality = sample_given.quality(components=components)
    return answers(dataclasses.replace(inputs, quality=quality, **changes))["Brain or muscle?"]


def test_no_muscle_found_is_not_told_as_none(inputs):
    eyes = [c for c in inputs.quality.components if c.label == "eye"]
    assert muscle_lead(inputs, eyes).startswith(
        "No muscle component was found; that is no proof that there was no muscle. "
        "Muscle may remain: 2 of 17 electrodes are far above muscle-free gamma."
    )


def test_muscle_that_was_kept_is_told(inputs):
    kept = [
        c.model_copy(update={"removed": False})
        for c in inputs.quality.components
        if c.label == "muscle"
    ]
    assert muscle_lead(inputs, kept, spectra=None).startswith(
        "2 components looked like muscle, but not surely enough to be removed. "
    )


def test_forbidden_claims_never_stand_in_an_answer(inputs):
    """Words that would name a state, an illness or a cause (list of our own)."""
    for kind in ("scored", "out_of_reach", "not_scored", "refused", "two_protocols"):
        text = " ".join(answers(getattr(samples, kind)()).values()).lower()
        for word in ("diagnos", "disorder", "healthy", "because of the", "caused", "normal brain"):
            assert word not in text


# The yardstick against what was published


def test_the_yardstick_line_holds_the_published_power():
    """EMG-6: 0.84 uV^2 in 30-45 Hz from the same digitised traces as the line's two numbers."""
    power, _ = integrate.quad(lambda f: float(yardstick.density_uv2_per_hz(f)), *yardstick.BAND_HZ)
    assert power == pytest.approx(yardstick.POWER_UV2, rel=0.03)


def test_gamma_power_is_density_times_width():
    frequency = np.arange(1.0, 70.25, 0.25)
    table = pd.DataFrame(
        {"block": 2, "electrode": "Cz", "frequency_hz": frequency, "psd_uv2_per_hz": 0.2}
    )
    (found,) = yardstick.gamma_power(table, [2])
    assert found.power_uv2 == pytest.approx(0.2 * 15)
    assert found.times == pytest.approx(0.2 * 15 / 0.84)
    assert yardstick.gamma_power(table, [3]) == []


def test_gamma_is_not_judged_where_the_recording_does_not_carry_it():
    text = answers(samples.refused())["Brain or muscle?"]
    assert "it is not in the recording" in text
    paragraphs = write_methods(samples.refused()).paragraphs
    assert "Whitham" not in " ".join(paragraphs)


# The drawn line


def test_a_condition_that_must_stay_below_is_drawn_upside_down(inputs):
    replay = inputs.replays[0]
    for c in inputs.record.conditions:
        above = relative_db(replay.cleaned, c) > 0
        assert (above == replay.cleaned[f"{c.name}_met"]).all()


def test_thinning_keeps_the_extremes_and_the_order():
    time = np.arange(40_000) * 0.125
    values = np.sin(time / 50)
    values[31_234], values[77] = 9.5, -8.5
    values[20_000:20_500] = np.nan
    kept_time, kept = thinned(time, values)
    assert len(kept) <= 900
    assert (np.nanmax(kept), np.nanmin(kept)) == (9.5, -8.5)
    assert (np.diff(kept_time) > 0).all()
    assert np.isnan(kept).any()


def test_no_advice_names_a_command_that_knows_only_what_was_set_aside():
    """`retry` sends again what lies in set-aside/; a sitting that is in goes by the inbox."""
    advice = [what for table in (reasons.NOT_SCORED, reasons.REFUSED) for _, what in table.values()]
    assert not [text for text in advice if "retry" in text]
    assert (
        "into the inbox again with the same recording" in reasons.NOT_SCORED["no-practice-block"][1]
    )


def test_the_title_comes_from_the_protocol_not_from_the_record():
    """The record holds codes and numbers only; a protocol's title is free text."""
    assert set(samples.scored().record.protocol.model_dump()) == {"name", "version"}
    page = Clinician(samples.scored(), ("Caution.",)).html()
    assert "Warm attention, version 2" in page


def test_what_all_regions_did_is_counted_by_band_and_told_with_care():
    said = answers(samples.scored())["What changed after each break?"]
    assert "Of 340 pairs of region and band, 2 changed: 1 up in gamma (30–45 Hz)" in said
    assert "1 down in alpha (8–13 Hz). Regions hear each other" in said
    assert "may be muscle" in said
