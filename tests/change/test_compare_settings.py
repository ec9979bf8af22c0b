"""A comparison of two settings or algorithms: what differs, and what can be put in force."""

import json
import shutil

import pytest
from small_archive import ALPHA, TEMPLES, write_protocol

from aftersit import algorithms
from aftersit.change.compare import compare
from aftersit.change.new_version import new_settings_version
from aftersit.change.replay import replay
from aftersit.change.select import Request
from aftersit.night.kept_settings import keep_settings
from aftersit.night.register import Register


def relabelled(clinic, label):
    """The archive's results once more, as if made under another label."""
    old = clinic.root / "derivatives/replay-s1-calm-sea-v1"
    new = shutil.copytree(old, old.with_name(f"replay-{label}-calm-sea-v1"))
    for path in new.rglob("record.json"):
        path.write_text(json.dumps(json.loads(path.read_text()) | {"settings": label}))


def page(clinic, a, b) -> str:
    compare(clinic, a, b, clinic.root / "compared")
    return (clinic.root / "compared/compare.html").read_text()


def test_other_unions_of_regions_are_told_as_what_differs(clinic):
    (clinic.root / "regions.yaml").write_text("unions:\n  salience: [insula, cuneus]\n")
    new_settings_version(clinic, "s1")
    keep_settings(clinic, "s2", Register(clinic))
    relabelled(clinic, "s2")
    html = page(clinic, "s1", "s2")
    assert "unions.salience: not there → [&#39;insula&#39;, &#39;cuneus&#39;]" in html
    assert "say the same on both sides" not in html


def test_no_command_is_printed_for_algorithms_that_the_program_no_longer_has(
    clinic, second_algorithms
):
    relabelled(clinic, "s1.2")
    html = page(clinic, "s1", "s1.2")
    assert "algorithms: 1 → 2" in html
    assert "A can't be put in force" in html
    assert "made with algorithms 1; this program computes with algorithms 2 only" in html
    assert html.count("scripts/aftersit replay") == 1
    told = html.partition("To put B in force")[2]
    assert "scripts/aftersit replay --settings s1 --clinic FOLDER" in told


def test_the_printed_command_makes_just_that_label(clinic, second_algorithms):
    """What the page prints for `s1.2`, done: results stand under it."""
    replay(clinic, Request(settings="s1", only_try=True), lambda _: None)
    assert len(list(clinic.root.glob("derivatives/replay-s1.2-calm-sea-v1/*/*/record.json"))) == 6


def test_a_protocol_that_nobody_practised_gets_no_command(clinic):
    other = write_protocol(clinic, 3, (ALPHA, TEMPLES)).read_text().replace("calm-sea", "far-sea")
    place = clinic.protocols / "far-sea" / "v3.yaml"
    place.parent.mkdir()
    place.write_text(other)
    request = Request(protocol="far-sea", version=3, not_practised=True, only_try=True)
    replay(clinic, request, lambda _: None)
    html = page(clinic, "calm-sea/v1", "far-sea/v3")
    assert "None of these sittings practised far-sea" in html
    assert "--protocol far-sea" not in html


@pytest.mark.parametrize("made_with", [1, 2])
def test_new_settings_are_compared_under_the_labels_that_results_will_have(
    clinic, second_algorithms, made_with
):
    from aftersit.night.ledger import Ledger

    label = algorithms.label_of("s1", made_with)
    for entry in Ledger(clinic).entries():
        Ledger(clinic).write(entry.model_copy(update={"settings": label}))
    said = new_settings_version(clinic, "s1")
    assert f"    scripts/aftersit compare {label} s2.2 --clinic FOLDER" in said
