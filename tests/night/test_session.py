import pytest
from quick_nights import run_night
from uploads import make_clinic

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.night.status import read_nights


@pytest.mark.parametrize(
    ("name", "todo"),
    [("moving.json", "delete it and run `audit`"), ("erasing.json", "run `erase` again")],
)
@pytest.mark.parametrize("text", ["", '{"source": "Erika"}', '{"client": "Erika", "x": '])
def test_a_damaged_note_of_what_was_under_way_is_told_and_fails_the_night(
    tmp_path, monkeypatch, name, todo, text
):
    clinic = Clinic(make_clinic(tmp_path / "clinic"))
    clinic.state.mkdir()
    (clinic.state / name).write_text(text)
    with pytest.raises(AftersitError) as caught:
        run_night(clinic, monkeypatch)
    assert str(caught.value).startswith(f".aftersit/{name} is damaged; put it back from a backup")
    assert todo in str(caught.value)
    assert "Erika" not in str(caught.value)
    assert read_nights(clinic).exit_code == 4
