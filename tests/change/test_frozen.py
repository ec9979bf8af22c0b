"""Used versions are frozen; a new version is one command away."""

import pytest
import yaml
from small_archive import ALPHA, TEMPLES, write_protocol

from aftersit.change.differences import differences
from aftersit.change.frozen import edited, protocol_edit, settings_edit
from aftersit.change.new_version import (
    new_protocol_version,
    new_settings_version,
    put_protocol_back,
)
from aftersit.cli import main
from aftersit.errors import AftersitError
from aftersit.night import kept_settings as kept
from aftersit.night.status import describe
from aftersit.protocol import load_protocol

REPLAY_FIRST = ["replay", "--protocol", "calm-sea", "--version", "1", "--try"]
HIGHER = ALPHA | {"threshold": {"db_over_baseline": 2.1}}


@pytest.fixture
def own_settings(clinic):
    """The clinic's own copy of the settings, where it can edit them."""
    clinic.own_settings.mkdir()
    own = clinic.own_settings / "s1.yaml"
    own.write_bytes(kept.settings_source(clinic, "s1").read_bytes())
    return own


def test_an_untouched_version_is_no_edit_and_a_remark_is_none_either(clinic):
    path = clinic.protocols / "calm-sea" / "v1.yaml"
    path.write_text("# a remark\n" + path.read_text())
    assert protocol_edit(clinic, "calm-sea", 1) is None
    assert edited(clinic) == []


def test_an_edit_becomes_version_2_and_version_1_says_again_what_it_said(clinic):
    path = clinic.protocols / "calm-sea" / "v1.yaml"
    used = path.read_bytes()
    write_protocol(clinic, 1, (HIGHER, TEMPLES))
    lines = new_protocol_version(clinic, "calm-sea")
    assert path.read_bytes() == used
    second = load_protocol(clinic.protocols, "calm-sea", 2)
    assert second.conditions[0].threshold.db_over_baseline == 2.1
    assert "v1.yaml says again what it said at its first use" in lines
    assert "    scripts/aftersit compare calm-sea/v1 calm-sea/v2 --clinic FOLDER" in lines
    assert edited(clinic) == []


@pytest.fixture
def broken(clinic):
    """A used version whose edit is no YAML any more, and what it said."""
    path = clinic.protocols / "calm-sea" / "v1.yaml"
    used = path.read_bytes()
    path.write_text(path.read_text().replace("name: calm-sea", "name: Sea: calm"))
    return path, used


@pytest.mark.parametrize("words", [["new-version", "calm-sea"], REPLAY_FIRST])
def test_an_edit_that_cant_be_read_is_told_with_the_way_back(clinic, broken, capsys, words):
    assert main([*words, "--clinic", str(clinic.root)]) == 1
    told = capsys.readouterr().err
    assert "calm-sea/v1.yaml was edited after results were made with it, and can't be read" in told
    assert ": a ': ' stands where none may" in told
    assert "    scripts/aftersit new-version calm-sea --put-back --clinic FOLDER" in told
    assert any("new-version calm-sea --put-back" in line for line in describe(clinic))


def test_putting_back_keeps_every_edit_beside(clinic, broken):
    path, used = broken
    edit = path.read_bytes()
    (line,) = put_protocol_back(clinic, "calm-sea")
    assert line.endswith("at its first use; the edit is kept as v1.edited.txt")
    assert (path.read_bytes(), path.with_name("v1.edited.txt").read_bytes()) == (used, edit)
    assert edited(clinic) == []
    with pytest.raises(AftersitError, match="no used version was edited; nothing to put back"):
        put_protocol_back(clinic, "calm-sea")
    write_protocol(clinic, 1, (HIGHER, TEMPLES))
    second = path.read_bytes()
    put_protocol_back(clinic, "calm-sea")
    assert path.with_name("v1.edited.txt").read_bytes() == edit
    assert path.with_name("v1.edited-2.txt").read_bytes() == second


def test_a_used_version_without_an_edit_is_copied_to_begin_from(clinic):
    new_protocol_version(clinic, "calm-sea")
    one, two = (load_protocol(clinic.protocols, "calm-sea", n) for n in (1, 2))
    assert two == one.model_copy(update={"version": 2})


def test_an_unused_version_is_edited_as_it_is(clinic):
    write_protocol(clinic, 2, (HIGHER, TEMPLES))
    with pytest.raises(AftersitError, match=r"v2\.yaml has not been used yet; edit it as it is"):
        new_protocol_version(clinic, "calm-sea")


def test_an_unknown_protocol_is_told_with_those_there_are(clinic):
    with pytest.raises(AftersitError, match="no protocol 'warm-sea'; there are: calm-sea"):
        new_protocol_version(clinic, "warm-sea")


def test_edited_settings_are_told_and_have_no_effect(clinic, own_settings):
    own_settings.write_text(
        own_settings.read_text().replace("high_pass_hz: 0.5", "high_pass_hz: 0.7")
    )
    edit = settings_edit(clinic, "s1")
    assert edit.lines == ("clean.high_pass_hz: 0.5 -> 0.7",)
    assert edit.command == "scripts/aftersit new-version --settings s1 --clinic FOLDER"
    assert kept.clinic_settings(clinic, "s1").clean.high_pass_hz == 0.5
    assert any(edit.command in line for line in describe(clinic))


def test_settings_whose_edit_cant_be_read_hide_nothing_else_and_can_be_put_back(
    clinic, own_settings
):
    used = own_settings.read_bytes()
    own_settings.write_bytes(used + b"clean: [\n")
    edit = settings_edit(clinic, "s1")
    assert not edit.can_be_read
    assert edit.lines[0].startswith("s1.yaml: line ")
    assert any(edit.command in line for line in describe(clinic))
    new_settings_version(clinic, "s1")
    assert own_settings.read_bytes() == used


def test_edited_settings_become_a_version_of_their_own(clinic, own_settings):
    own_settings.write_text(
        own_settings.read_text().replace("high_pass_hz: 0.5", "high_pass_hz: 0.7")
    )
    lines = new_settings_version(clinic, "s1")
    assert kept.clinic_settings(clinic, "s2").clean.high_pass_hz == 0.7
    assert settings_edit(clinic, "s1") is None
    assert any("settings: s2" in line for line in lines)


def test_a_new_union_of_regions_is_a_new_settings_version(clinic):
    """The region set changes results, so it is frozen with the settings."""
    (clinic.root / "regions.yaml").write_text("unions:\n  salience: [insula, cuneus]\n")
    assert settings_edit(clinic, "s1").lines == (
        "unions.salience: not there -> ['insula', 'cuneus']",
    )
    new_settings_version(clinic, "s1")
    assert yaml.safe_load(kept.regions_file(clinic, "s2").read_text()) == {
        "unions": {"salience": ["insula", "cuneus"]}
    }
    assert settings_edit(clinic, "s1") is None


def test_the_command_line_refuses_in_words(clinic, capsys):
    write_protocol(clinic, 1, (HIGHER, TEMPLES))
    arguments = ["replay", "--protocol", "calm-sea", "--version", "1", "--try"]
    assert main([*arguments, "--clinic", str(clinic.root)]) == 1
    told = capsys.readouterr().err
    assert "conditions.alpha.threshold.db_over_baseline: 0.4 -> 2.1" in told
    assert "scripts/aftersit new-version calm-sea --clinic FOLDER" in told


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["replay"], "say what changed: --protocol P, --settings LABEL or --upgrade"),
        (["replay", "--version", "3", "--upgrade"], "--version goes with --protocol"),
        (["replay", "--protocol", "x"], "there is no protocol 'x'"),
        (["replay", "--settings", "s9"], "settings version 's9' does not exist"),
        (["replay", "--protocol", "calm-sea", "--version", "9"], "version 9 does not exist"),
        (
            ["replay", "--upgrade", "--clients", "K07,M21"],
            "there is no client 'M21'; did you mean 'M12'? There are: K07, M12, T05",
        ),
        (["compare", "x", "s1"], "settings version 'x' does not exist; there are: s1"),
        (["compare", "s1", "s1.77"], "s1.77: this program has algorithms up to "),
        (["compare", "s1", "s2"], "settings version 's2' does not exist; there are: s1"),
        (
            ["compare", "calm-sea/v1", "calm-see/v1"],
            "there is no protocol 'calm-see'; did you mean 'calm-sea'? There are: calm-sea",
        ),
        (
            ["compare", "calm-sea/v1", "calm-sea/v3"],
            "protocol calm-sea has no version 3; there are: v1",
        ),
        (
            ["release", "K07/88", "--reviewer", "R1"],
            "has no sitting K07/88; the last one is K07/03",
        ),
        (
            ["release", "T50/01", "--reviewer", "R1"],
            "has no sitting T50/01: there is no client 'T50'; did you mean 'T05'?",
        ),
        (["new-version", "--settings", "s9"], "settings version 's9' does not exist"),
    ],
)
def test_mistakes_are_told_in_a_line(clinic, capsys, arguments, told):
    assert main([*arguments, "--clinic", str(clinic.root)]) == 1
    said = capsys.readouterr()
    assert told in said.err
    assert said.out == ""


def test_differences_name_each_key():
    one = {"a": [{"name": "x", "t": {"v": 1.5}}, {"name": "y"}], "b": [2, 3], "c": None}
    two = {"a": [{"name": "x", "t": {"v": 2.5}}], "b": [2, 4], "c": 7}
    assert differences(one, two) == [
        "a.x.t.v: 1.5 -> 2.5",
        "a.y: {'name': 'y'} -> not there",
        "b: [2, 3] -> [2, 4]",
        "c: none -> 7",
    ]
