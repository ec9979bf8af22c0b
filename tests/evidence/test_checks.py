"""Every check of the evidence page, run as `validate` runs it."""

import pytest

from aftersit.evidence.check import GROUPS, all_checks
from aftersit.evidence.facts import TABLE, facts
from aftersit.evidence.result import NotRunError
from aftersit.plain_yaml import load_plain_yaml

SLOW = {"recordings", "bids.validator", "bids.validator-codes"}


def marked(one):
    marks = [pytest.mark.open_data] if one.group == "recordings" else []
    marks += [pytest.mark.slow] if SLOW & {one.group, one.id} else []
    return pytest.param(one, id=one.id, marks=marks)


@pytest.mark.parametrize("one", [marked(c) for c in all_checks()])
def test_check_holds(one, given):
    why_not = one.missing(given)
    if why_not:
        pytest.skip(why_not)
    try:
        found = one.run(given)
    except NotRunError as error:
        pytest.skip(f"not run: {error}")
    assert found.passed, f"expected {found.expected} ({found.tolerance}), found {found.measured}"


def test_there_are_enough_checks_from_enough_sources():
    used = [facts().facts[c.fact] for c in all_checks()]
    assert len(used) >= 60
    assert len({f.source for f in used if f.source}) >= 25
    assert sum(f.kind == "from memory" for f in used) <= len(used) / 10
    assert {c.group for c in all_checks()} == set(GROUPS)


def test_every_fact_and_source_is_used():
    told_as_effects = {"effect-theta", "effect-muscle"}
    assert set(facts().facts) - {c.fact for c in all_checks()} == told_as_effects
    assert {f.source for f in facts().facts.values()} - {None} == set(facts().sources)
    assert set(load_plain_yaml(TABLE)) == {"sources", "facts"}
