"""Rescoring: what is taken, what runs, where it stands, and what stays."""

import dataclasses
import datetime as dt

import pytest
from small_archive import ALPHA, TEMPLES, write_protocol

from aftersit.change import replay as module
from aftersit.change.frozen import FrozenError
from aftersit.change.replay import replay
from aftersit.change.select import Request, select
from aftersit.clinic import SittingId
from aftersit.errors import AftersitError
from aftersit.night.contents import contents
from aftersit.night.ledger import Ledger
from aftersit.night.outcome import Outcome
from aftersit.night.plan import planned
from aftersit.night.report import reviewed_files
from aftersit.pages.review import release
from aftersit.record import Record

HIGHER = ALPHA | {"threshold": {"db_over_baseline": 2.1}}
TRY = Request(protocol="calm-sea", version=2, only_try=True)


def record(clinic, client="K07", number=2, version=1, label="s1") -> Record:
    place = f"derivatives/replay-{label}-calm-sea-v{version}/sub-{client}/ses-{number:02d}"
    return Record.model_validate_json((clinic.root / place / "record.json").read_bytes())


def everything_but(clinic, *starts):
    return {n: s for n, s in contents(clinic.root).items() if not n.startswith(starts)}


def quiet(_):
    pass


def test_a_new_threshold_runs_the_replay_alone_and_leaves_all_else(clinic):
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    before = everything_but(clinic, ".aftersit/")
    done = replay(clinic, TRY, quiet)
    assert dict(done.rules) == {"replay_protocol": 6}
    assert done.failed == {}
    assert everything_but(clinic, ".aftersit/", "derivatives/replay-s1-calm-sea-v2/") == before
    assert record(clinic, version=2).protocol.version == 2
    assert record(clinic, version=1).protocol.version == 1
    assert record(clinic, version=2).cleaned.in_target_share < 0.6 * (
        record(clinic, version=1).cleaned.in_target_share
    )


def test_results_that_stand_are_not_made_again(clinic):
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    replay(clinic, TRY, quiet)
    first = contents(clinic.root / "derivatives")
    again = replay(clinic, TRY, quiet)
    assert (again.stood, dict(again.rules)) == (6, {})
    assert contents(clinic.root / "derivatives") == first


def test_results_of_other_blocks_do_not_stand(clinic):
    """A corrected sheet gives other blocks; what was tried before is stale then."""
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    replay(clinic, TRY, quiet)
    events = clinic.root.glob("bids/sub-K07/ses-02/eeg/*_events.tsv")
    for path in events:
        path.write_text(path.read_text().replace("20.0\t24.05", "26.0\t18.05"))
    assert replay(clinic, TRY, quiet).rules["replay_protocol"] == 1


EDITED = {
    "a figure": (
        "record.json",
        lambda t: t.replace('"in_target_share": 0.', '"in_target_share": 1.'),
    ),
    "a row": ("timeline-cleaned.tsv", lambda t: t.rsplit("\n", 2)[0] + "\n"),
    "a file": ("timeline-uncleaned.tsv", None),
}


@pytest.mark.parametrize("case", EDITED)
def test_results_that_somebody_edited_do_not_stand_and_are_told(clinic, case):
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    replay(clinic, TRY, quiet)
    first, (name, edit) = contents(clinic.root / "derivatives"), EDITED[case]
    path = clinic.root / "derivatives/replay-s1-calm-sea-v2/sub-K07/ses-02" / name
    before, said = path.read_text(), []
    path.unlink()
    if edit:
        path.write_text(edit(before))
        assert path.read_text() != before
    again = replay(clinic, TRY, said.append)
    assert (again.stood, dict(again.rules)) == (5, {"replay_protocol": 1})
    assert contents(clinic.root / "derivatives") == first
    assert (
        "K07/02 calm-sea v2: results were not as they had been written, and were made again" in said
    )


def test_results_of_earlier_algorithms_are_not_scored_under_their_label(clinic, second_algorithms):
    """The program can't compute with earlier algorithms, so no new result may stand under s1."""
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    said, before = [], contents(clinic.root / "derivatives")
    with pytest.raises(AftersitError, match="no sitting to rescore"):
        replay(clinic, TRY, said.append)
    assert said[0] == (
        "left out, made with other algorithms than this program has "
        "(--upgrade takes them, with algorithms 2): 6"
    )
    assert contents(clinic.root / "derivatives") == before


def test_with_an_upgrade_a_new_version_stands_under_the_label_of_these_algorithms(
    clinic, second_algorithms
):
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    done = replay(clinic, dataclasses.replace(TRY, upgrade=True), quiet)
    # A sitting's pages hold one label only; M12 and T05 practise the same protocol.
    assert dict(done.rules) == {"replay_protocol": 6}
    assert record(clinic, version=2, label="s1.2").protocol.version == 2
    assert not list(clinic.root.glob("derivatives/replay-s1-calm-sea-v2"))


@pytest.mark.parametrize(
    ("asked", "taken"),
    [
        ({}, 6),
        ({"clients": ("K07", "T05")}, 4),
        ({"first": dt.date(2026, 3, 8), "last": dt.date(2026, 3, 16)}, 3),
        ({"practice": "quiet-rest"}, 2),
        ({"practice": "quiet-rest", "last": dt.date(2026, 3, 17)}, 1),
        ({"protocol": "other-sea", "not_practised": True, "clients": ("M12",)}, 2),
        ({"protocol": "other-sea"}, 0),
        ({"upgrade": True, "protocol": None, "version": None}, 0),
    ],
)
def test_sittings_are_taken_by_client_day_and_practice(clinic, asked, taken):
    request = Request(**{"protocol": "calm-sea", "version": 2, **asked})
    selected = select(clinic, Ledger(clinic), request)
    assert len(selected.rescorings) == taken
    assert sum(selected.left_out.values()) == 6 - taken


def test_a_sitting_of_another_protocol_is_never_put_in_force(clinic):
    request = Request(protocol="other-sea", version=3, not_practised=True)
    rescorings = select(clinic, Ledger(clinic), request).rescorings
    assert {r.in_force for r in rescorings} == {False}
    assert {r.after.protocols["other-sea"] for r in rescorings} == {3}


def test_an_unknown_client_is_an_error(clinic):
    with pytest.raises(AftersitError, match="no client 'Q99'; there are: K07"):
        replay(clinic, Request(protocol="calm-sea", version=1, clients=("Q99",)), quiet)


@pytest.mark.parametrize("reviewed", [(), ("K07/02",)])
def test_handouts_to_review_again_are_named_when_there_are_some(clinic, monkeypatch, reviewed):
    for name in ("_workflow", "write_provenance", "mark_finished"):
        owner = module._Run if name == "_workflow" else module
        monkeypatch.setattr(owner, name, lambda *_, **__: None)  # pages are for slow tests
    monkeypatch.setattr(module, "outcome_of", lambda _, one: Outcome(one))
    for entry in Ledger(clinic).entries():
        if str(entry.sitting) in reviewed:
            files = reviewed_files(clinic, planned(entry))
            release(clinic, entry.sitting, "DR2", files, dt.date(2026, 4, 2))
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    said = []
    replay(clinic, Request(protocol="calm-sea", version=2), said.append)
    told = [line for line in said if "reviewed" in line]
    again = f"handouts that were reviewed before and must be reviewed again: {', '.join(reviewed)}"
    assert told == [again] * len(reviewed)


def test_one_sitting_that_fails_stops_no_other(clinic):
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    (broken,) = clinic.root.glob("derivatives/regions-s1/sub-K07/ses-02/*_cross.npz")
    broken.write_bytes(b"cut short")
    done = replay(clinic, TRY, quiet)
    assert list(done.failed) == [SittingId("K07", 2)]
    assert done.exit_code == 4
    assert done.rules["replay_protocol"] == 5


def test_an_edited_version_is_refused_with_the_difference_and_the_command(clinic):
    write_protocol(clinic, 1, (HIGHER, TEMPLES))
    with pytest.raises(FrozenError) as refused:
        replay(clinic, Request(protocol="calm-sea", version=1, only_try=True), quiet)
    assert str(refused.value) == (
        "protocols/calm-sea/v1.yaml was edited after results were made with it; a used version "
        "is frozen, and the edit is not used. It differs in\n"
        "    conditions.alpha.threshold.db_over_baseline: 0.4 -> 2.1\n"
        "Make a new version of it with\n"
        "    scripts/aftersit new-version calm-sea --clinic FOLDER"
    )


def test_a_version_is_frozen_from_its_first_try_on(clinic):
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    replay(clinic, TRY, quiet)
    write_protocol(clinic, 2, (ALPHA, TEMPLES))
    with pytest.raises(FrozenError, match=r"db_over_baseline: 2\.1 -> 0\.4"):
        replay(clinic, TRY, quiet)


def test_the_bytes_do_not_depend_on_how_many_processes_there_are(clinic, tmp_path):
    import shutil

    from aftersit.clinic import Clinic
    from aftersit.night.settings import load_night_settings

    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    found = []
    for cores in (1, 2, 4):
        copy = Clinic(shutil.copytree(clinic.root, tmp_path / f"ordner-{cores} ä"))
        night = load_night_settings().model_copy(update={"cores": cores})
        replay(copy, TRY, quiet, night)
        found.append(contents(copy.root / "derivatives/replay-s1-calm-sea-v2"))
    assert len(found[0]) == 6 * 4
    assert found[0] == found[1] == found[2]
