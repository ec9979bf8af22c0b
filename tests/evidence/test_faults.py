"""Deliberate faults, one at a time: each is caught, and each check catches one or says why not."""

from pathlib import Path

import pytest

from aftersit.bench import heads
from aftersit.evidence import faults
from aftersit.evidence.check import GROUPS, all_checks
from aftersit.evidence.fault_list import FAULTS
from aftersit.head.model import save_head


def test_there_are_enough_faults_over_all_groups():
    assert len(FAULTS) >= 25
    assert len({f.id for f in FAULTS}) == len(FAULTS)
    # Real recordings are tried whole; the parts that they go through have faults of their own.
    assert {f.groups[0] for f in FAULTS} == set(GROUPS) - {"recordings"}


def test_a_fault_is_gone_when_it_was_tried():
    from aftersit.head import spectra

    (two_sided,) = [f for f in FAULTS if f.id == "two-sided"]
    sound = spectra._one_sided
    with two_sided.applied():
        assert spectra._one_sided is not sound
    assert spectra._one_sided is sound


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.id)
def test_what_a_fault_breaks_is_there(fault):
    with fault.applied():
        pass


@pytest.fixture
def kept_head(head, tmp_path, monkeypatch) -> Path:
    """The template head where checks look for it."""
    monkeypatch.setattr(heads, "FOLDER", tmp_path)
    heads.template_head.cache_clear()
    save_head(head, heads.template_file())
    yield tmp_path
    heads.template_head.cache_clear()


@pytest.mark.slow
def test_every_fault_is_caught_and_every_check_catches_one(kept_head):
    table = faults.try_all(say=print)
    assert [row.id for row in table.rows if not row.caught_by] == []
    ids = {c.id for c in all_checks()}
    assert {check for row in table.rows for check in row.caught_by} <= ids
    unexplained = [check for check, why in table.quiet if why == faults.NO_REASON]
    assert unexplained == []
    assert set(faults.QUIET) <= {check for check, _ in table.quiet}
