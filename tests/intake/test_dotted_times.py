"""Times with a dot are minutes to people and seconds to programs: nobody guesses."""

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from aftersit.errors import InvalidFileError
from aftersit.intake.check import check_upload, read_sheet
from aftersit.intake.dotted_times import dotted_times
from aftersit.intake.problems import UploadError
from small_uploads import CLINIC_SETTINGS, SETTINGS, SHEET, make_clinic, make_upload

HEAD = yaml.safe_dump({key: value for key, value in SHEET.items() if key != "blocks"})


def write(folder, start, end):
    path = folder / "sitting.yaml"
    path.write_text(f"{HEAD}blocks:\n  - {{kind: practice, start: {start}, end: {end}}}\n")
    return path


def problems(path):
    with pytest.raises(UploadError) as caught:
        read_sheet(path)
    return caught.value.problems


def test_minutes_with_a_dot_are_refused_and_the_user_hears_how_to_write_them(tmp_path):
    one, two = problems(write(tmp_path, "02.00", "05.30"))
    assert (one.place, two.place) == (
        "sitting.yaml: blocks.1.start",
        "sitting.yaml: blocks.1.end",
    )
    assert two.found.startswith("found 05.30, which may be")
    assert '"05:30" if it is minutes and seconds' in two.todo
    assert "write 05.300" in two.todo


def test_they_are_told_beside_what_else_is_wrong(tmp_path):
    codes = [problem.code for problem in problems(write(tmp_path, "05.30", "02.00"))]
    assert codes == ["dotted-time", "dotted-time", "sheet"]


@given(minutes=st.integers(0, 99), seconds=st.integers(0, 59), quote=st.sampled_from(["", '"']))
def test_no_minutes_and_seconds_with_a_dot_are_taken_for_a_number(
    tmp_path_factory, minutes, seconds, quote
):
    written = f"{quote}{minutes:02d}.{seconds:02d}{quote}"
    path = write(tmp_path_factory.getbasetemp(), written, '"120:00"')
    assert problems(path)[0].place == "sitting.yaml: blocks.1.start"


@pytest.mark.parametrize("end", ["64", "64.0", "12.5", "5.300", "12.75", '"1:03.25"', "1:04"])
def test_other_times_are_read(tmp_path, end):
    """Decimals that can't be seconds of a minute, or are not two, are no minutes."""
    path = write(tmp_path, "0:02", end)
    assert dotted_times(path, "sitting.yaml") == []
    assert read_sheet(path).blocks[0].end > 2


@pytest.mark.parametrize("text", ["", "7", "blocks: [", "a: *b", "blocks: [3, {start: [2.30]}]"])
def test_what_is_no_sheet_has_no_such_problem(tmp_path, text):
    path = tmp_path / "sitting.yaml"
    path.write_text(text)
    assert dotted_times(path, "sitting.yaml") == []
    with pytest.raises((UploadError, InvalidFileError)):
        read_sheet(path)


@pytest.mark.parametrize(("end", "noted"), [("0:31", True), ("0:37", False)])
def test_blocks_that_take_less_than_half_of_the_recording_are_noted(tmp_path, end, noted):
    """The recording takes 64 s, so half of it is passed at 0:34."""
    blocks = [{"kind": "practice", "start": 2, "end": end}]
    folder = make_upload(tmp_path / "u", blocks=blocks)
    clinic = make_clinic(tmp_path / "clinic")
    accepted = check_upload(folder, clinic, CLINIC_SETTINGS, SETTINGS).accepted
    texts = [note.text for note in accepted.notes if note.code == "blocks-cover-little"]
    assert bool(texts) is noted
    assert all("00:29 of 01:04" in text for text in texts)
