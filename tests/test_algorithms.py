"""Versions of the algorithms and the labels that they are part of."""

import re

from hypothesis import given
from hypothesis import strategies as st

from aftersit import algorithms
from aftersit.algorithms import AlgorithmVersion, changed_since, label_of, split_label
from aftersit.clinic import ClinicSettings


@given(st.from_regex(r"[a-z0-9]{1,12}", fullmatch=True), st.integers(1, 400))
def test_a_label_says_its_two_versions(settings, number):
    label = label_of(settings, number)
    assert split_label(label) == (settings, number)
    assert re.fullmatch(r"[a-z0-9]+(\.[0-9]+)?", label)  # as the workflow's wildcard takes it


def test_no_settings_version_can_be_named_like_a_label_of_later_algorithms():
    (rule,) = ClinicSettings.model_fields["settings"].metadata
    assert not re.fullmatch(rule.pattern, label_of("s1", 3))


def test_what_changed_since_is_what_came_after(monkeypatch):
    made = [
        AlgorithmVersion(number=n, stages=("regions",), changes=f"Change {n}.") for n in (1, 2, 3)
    ]
    monkeypatch.setattr(algorithms, "versions", lambda: tuple(made))
    assert [v.number for v in changed_since(1)] == [2, 3]
    assert changed_since(3) == ()
    assert algorithms.current() == 3


def test_the_shipped_table_counts_up_and_says_what_changes():
    found = algorithms.versions()
    assert [v.number for v in found] == list(range(1, len(found) + 1))
    assert all(v.changes.endswith(".") for v in found)
