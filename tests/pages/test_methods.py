"""The methods are worded from the settings, protocols and results of the very sitting."""

import dataclasses

import pytest
import sample_given
import sample_records
import samples
from sample_given import ELECTRODES, PROTOCOL

from aftersit.pages import format as fmt
from aftersit.pages.methods import settings_rows, write_methods

SPACE = fmt.SPACE


@pytest.fixture(scope="module")
def inputs():
    return samples.scored()


def methods(of) -> str:
    return " ".join(write_methods(of).paragraphs).replace(SPACE, " ")


def with_settings(inputs, section: str, **changes):
    settings = _changed(inputs.settings, section.split("."), changes)
    return dataclasses.replace(inputs, settings=settings)


def _changed(part, names: list[str], changes: dict):
    if not names:
        return part.model_copy(update=changes)
    inner = _changed(getattr(part, names[0]), names[1:], changes)
    return part.model_copy(update={names[0]: inner})


@pytest.mark.parametrize(
    ("section", "key", "values", "texts"),
    [
        ("clean", "high_pass_hz", (0.4, 0.7), ("high-pass at 0.4 Hz", "high-pass at 0.7 Hz")),
        ("head", "segment_s", (2.5, 4.0), ("averages of 2.5 s Hann", "averages of 4 s Hann")),
        ("head", "snr", (3.0, 5.0), ("ratio 3, regularisation 1/9", "5, regularisation 1/25")),
        ("head", "cortex_surface", ("mid", "white"), ("halfway between", "on the white matter")),
        ("replay.insight", "segment_s", (10.0, 15.0), ("means over 10 s", "means over 15 s")),
        ("replay", "filter_order", (2, 3), ("filters of order 4", "filters of order 6")),
    ],
)
def test_methods_follow_the_settings(inputs, section, key, values, texts):
    one, two = (methods(with_settings(inputs, section, **{key: value})) for value in values)
    assert texts[0] in one
    assert texts[1] not in one
    assert texts[1] in two
    assert texts[0] not in two


def test_methods_follow_the_results(inputs):
    quality = sample_given.quality(mains_hz=None, components=())
    quiet = methods(dataclasses.replace(inputs, quality=quality))
    assert "No mains interference stood out" in quiet
    assert "No independent components were fitted" in quiet
    assert "Picard" not in quiet
    assert not [
        c
        for c in write_methods(dataclasses.replace(inputs, quality=quality)).citations
        if c.startswith("Ablin")
    ]


def test_methods_say_nothing_of_steps_that_did_not_run():
    text = methods(samples.not_scored())
    assert "was not scored" in text
    assert "interval" not in text
    assert "scored causally" not in text


def test_methods_follow_the_protocol(inputs):
    text = methods(inputs)
    assert "right insula, 35–45 Hz, above +1.0 dB over baseline" in text
    assert "electrodes T7 and T8, 30–45 Hz, below 6 µV²" in text
    one = sample_given.protocol(
        conditions=PROTOCOL["conditions"][2:], timing={"onset_s": 0.75, "release_s": 1.5}
    )
    replay = sample_records.replayed(one, inputs.quality, inputs.blocks, ((2.5, 3.0),))
    changed = methods(dataclasses.replace(inputs, replays=(replay,)))
    assert "The condition met for 0.75 s started the reward, 1.5 s without ended it" in changed
    assert "sLORETA" not in changed


def test_methods_name_what_held_the_reward_off(inputs):
    used = sample_given.protocol(
        combine={"at_least": 2},
        timing={"warm_up_s": 12},
        artefact_gate={"limit_uv": 90, "hold_s": 1.5},
    )
    levels = ((-2.0, 0.8), (0.9, 1.3), (2.5, 3.0))
    replay = sample_records.replayed(used, inputs.quality, inputs.blocks, levels)
    text = methods(dataclasses.replace(inputs, replays=(replay,)))
    assert "At least 2 conditions met together" in text
    assert "The first 12 s of a block were not rewarded." in text
    assert "until 1.5 s after an electrode had swung further than 90 µV in 1–40 Hz." in text


def test_every_setting_is_listed(inputs):
    listed = dict(settings_rows(inputs))
    assert f"filter_order {inputs.settings.replay.filter_order}" in listed["replay"]
    assert f"muscle {inputs.settings.clean.components.muscle}" in listed["clean.components"]
    assert listed["all"] == f"seed {inputs.settings.seed}"


def with_electrodes(inputs, reasons: dict[str, tuple[str, ...]]):
    electrodes = [
        {"name": n, "good": n not in reasons, "reasons": reasons.get(n, ())} for n in ELECTRODES
    ]
    return dataclasses.replace(inputs, quality=sample_given.quality(electrodes=electrodes))


def test_only_what_was_recorded_counts_as_recorded(inputs):
    text = methods(with_electrodes(inputs, {"F8": ("missing",), "Pz": ("missing",)}))
    assert "EEG was recorded from 17 electrodes of the 10-20 system" in text
    assert "(F8 and Pz were not in the recording)" in text
    assert "bad for more than" not in text


def test_electrodes_are_left_out_for_their_own_reason(inputs):
    """The share of bad time is the limit of four reasons only (clean/electrodes.py)."""
    found = with_electrodes(
        inputs, {"F8": ("noisy", "popping"), "P7": ("bridged",), "T7": ("swapped",)}
    )
    text = methods(found)
    share = inputs.settings.clean.electrodes.bad_share * 100
    assert (
        "left out and not interpolated: F8 (noisy and popping, loose contact), T7 (looks "
        "swapped with another) and P7 (bridged with a neighbour by gel); the other 16 were" in text
    )
    assert f"Noisy, flat or drifting means for more than {share:g} % of the recording" in text
    text = methods(with_electrodes(inputs, {"P7": ("bridged",), "T7": ("swapped",)}))
    assert "of the recording," not in text
    assert "means for more than" not in text


def test_no_electrode_left_out_is_said(inputs):
    assert "No electrode was left out; the 19 were re-referenced" in methods(
        with_electrodes(inputs, {})
    )


def test_the_fit_names_the_most_samples_that_it_read(inputs):
    components = inputs.settings.clean.components.model_copy(update={"fit_samples": 43210})
    text = methods(with_settings(inputs, "clean", components=components))
    assert "at most 43210 evenly taken samples of at most 10 min of signal" in text


def test_restricted_labels_are_told(inputs):
    restricted = dataclasses.replace(inputs, quality=sample_given.quality(labels_in_design=False))
    told = "does not hold the 1-100 Hz that the labels were made for, so only eye could be removed"
    assert told in methods(restricted)
    assert told not in methods(inputs)


def test_a_fit_that_did_not_converge_is_told(inputs):
    most = inputs.settings.clean.components.max_iterations
    found = sample_given.quality(components_converged=False)
    stopped = dataclasses.replace(inputs, quality=found)
    told = f"The fit had not converged after {most} iterations"
    assert told in methods(stopped)
    assert told not in methods(inputs)
