"""The table of sittings against the models that read its papers."""

import itertools

import pytest
import yaml

from aftersit.clinic import ClinicSettings
from aftersit.clock import seconds
from aftersit.errors import InvalidFileError
from aftersit.plain_yaml import parse_plain_yaml
from aftersit.sheet import Sheet
from demo_clinic import papers
from demo_clinic.people import PEOPLE
from demo_clinic.scenario import BROKEN, SITTINGS


def checked(sitting) -> Sheet:
    text = papers.as_yaml(papers.sheet(sitting))
    return Sheet.checked(parse_plain_yaml(text, "sitting.yaml"), "sitting.yaml")


@pytest.mark.parametrize("sitting", SITTINGS, ids=lambda s: s.upload)
def test_sheets_are_valid(sitting):
    sheet = checked(sitting)
    assert (sheet.client, sheet.date) == (sitting.client, sitting.starts.date())
    if not sitting.annotated:
        assert [b.kind.value for b in sheet.blocks] == [b.kind for b in sitting.blocks]
        assert sheet.blocks[-1].end == sitting.minutes * 60


@pytest.mark.parametrize("sitting", SITTINGS, ids=lambda s: s.upload)
def test_blocks_tile_the_recording(sitting):
    edges = [(seconds(b.start), seconds(b.end)) for b in sitting.blocks]
    assert edges[0][0] == 0
    assert edges[-1][1] == sitting.minutes * 60
    assert all(a[1] == b[0] for a, b in itertools.pairwise(edges))


def test_the_broken_sheet_is_refused_at_the_misspelt_key():
    with pytest.raises(InvalidFileError, match="instrucion: unknown key; did you mean"):
        checked(BROKEN)


def test_the_broken_sheet_is_refused_for_its_blocks_once_the_key_is_right():
    data = papers.sheet(BROKEN)
    data["instruction"] = data.pop("instrucion")
    with pytest.raises(InvalidFileError, match=r"overlap.*00:00-02:00 and 01:30-05:00"):
        Sheet.checked(data, "sitting.yaml")


def test_there_is_enough_of_everything():
    assert len({s.client for s in SITTINGS}) >= 4
    assert len(SITTINGS) >= 8
    assert all(8 <= s.minutes <= 15 for s in SITTINGS)
    assert {s.file for s in SITTINGS} == {"edf", "edf+", "bdf", "brainvision"}
    assert {250, 256, 500} == {s.rate_hz for s in SITTINGS}
    assert len({s.protocol for s in SITTINGS}) == 5
    days = [s.starts.date() for s in SITTINGS]
    assert days == sorted(days)
    assert (days[-1] - days[0]).days >= 21
    assert any(s.sheet.get("unpleasant") for s in SITTINGS)
    assert any(s.sheet.get("not_for_research") for s in SITTINGS)


def test_uploads_have_names_of_their_own_and_known_people():
    uploads = [s.upload for s in (*SITTINGS, BROKEN)]
    assert len(set(uploads)) == len(uploads)
    assert {s.client for s in (*SITTINGS, BROKEN)} == set(PEOPLE)


def test_clinic_settings_are_valid_and_say_that_they_are_invented():
    settings = ClinicSettings.checked(yaml.safe_load(papers.as_yaml(papers.CLINIC)), "clinic.yaml")
    assert "invented demo clinic" in settings.name
    # RFC 2606 keeps example.org free for examples.
    assert settings.contact.email.endswith(".example.org")


def test_the_roster_holds_each_client_once():
    lines = papers.roster().splitlines()
    assert lines[0] == "client,research_consent,date"
    assert [line.split(",")[0] for line in lines[1:]] == list(PEOPLE)
    assert {line.split(",")[1] for line in lines[1:]} == {"yes", "no"}
