"""What a change of settings or algorithms takes over instead of computing it again."""

import os

import pytest
from test_replay import quiet, record

from aftersit.change.new_version import new_settings_version
from aftersit.change.replay import replay
from aftersit.change.reuse import Reusable, reusable
from aftersit.change.select import Request
from aftersit.night.ledger import Ledger
from aftersit.night.older import follow_the_program, made_before


def changed_settings(clinic, before: str, after: str):
    """A version s2 with one line changed."""
    new_settings_version(clinic, "s1")
    path = clinic.own_settings / "s2.yaml"
    assert path.read_text().count(before) == 1
    path.write_text(path.read_text().replace(before, after))


@pytest.mark.parametrize(
    ("before", "after", "same"),
    [
        ("high_pass_hz: 0.5", "high_pass_hz: 0.7", Reusable(False, True, False)),
        ("skull_max_mm: ", "skull_max_mm: 1", Reusable(True, False, False)),
        ("baseline_min_s: ", "baseline_min_s: 1", Reusable(True, True, True)),
        ("seed: 20260301", "seed: 20260302", Reusable(False, False, False)),
    ],
)
def test_a_section_that_changed_costs_its_stage_and_those_after(clinic, before, after, same):
    """Numbers get a digit in front, so that they stay within what the settings allow."""
    changed_settings(clinic, before, after)
    assert reusable(clinic, "s1", "s2") == same


def test_another_union_of_regions_costs_the_measures_alone(clinic):
    (clinic.root / "regions.yaml").write_text("unions:\n  salience: [insula, cuneus]\n")
    new_settings_version(clinic, "s1")
    assert reusable(clinic, "s1", "s2") == Reusable(clean=True, head=True, regions=False)


def test_an_upgrade_of_the_replay_runs_the_replay_alone_beside_the_old_results(
    clinic, second_algorithms
):
    before = record(clinic)
    done = replay(clinic, Request(upgrade=True, only_try=True), quiet)
    assert dict(done.rules) == {"replay_protocol": 6}
    assert record(clinic) == before
    assert record(clinic, label="s1.2").settings == "s1.2"
    one, two = (
        next(clinic.root.glob(f"derivatives/clean-{label}/sub-K07/ses-01/eeg/*_eeg.eeg"))
        for label in ("s1", "s1.2")
    )
    assert os.path.samefile(one, two)


def test_a_night_leaves_finished_sittings_of_earlier_algorithms_alone(clinic, second_algorithms):
    ledger = Ledger(clinic)
    assert len(made_before(ledger.entries())) == 6
    follow_the_program(clinic, ledger, quiet)
    assert {e.settings for e in Ledger(clinic).entries()} == {"s1"}


def test_what_a_night_must_make_anyway_it_makes_with_its_own_algorithms(clinic, second_algorithms):
    """Records that are gone can't be made with algorithms that the program has no more."""
    (gone,) = clinic.root.glob("derivatives/replay-s1-*/sub-T05/ses-01/record.json")
    gone.unlink()
    told = []
    follow_the_program(clinic, Ledger(clinic), told.append)
    assert [e.settings for e in Ledger(clinic).entries() if e.client == "T05"] == ["s1.2"]
    assert told == ["T05/01 is made with algorithms 2; earlier results stay"]


def test_a_new_message_on_a_sheet_does_not_move_a_sitting(clinic, second_algorithms):
    """Only its pages are made again, from the records that stand."""
    ledger = Ledger(clinic)
    entry = next(e for e in ledger.entries() if e.client == "M12")
    ledger.write(entry.model_copy(update={"finished": None}))
    follow_the_program(clinic, ledger, quiet)
    assert ledger.read(entry.sitting).settings == "s1"
