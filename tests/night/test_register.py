import json

import pytest

from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.night.lines import add_line, read_lines
from aftersit.night.register import Register

X_EDF = "82a7603a"  # printf x.edf | sha256sum


@pytest.fixture
def register(tmp_path):
    return Register(Clinic(tmp_path))


def test_the_last_word_on_a_place_counts(register):
    register.add("set-aside/a", {"x.edf": "11", "sitting.yaml": "12"})
    register.add("originals/K07/03/r1", {"x.edf": "21"})
    register.add("originals/K07/03/r1", {"x.edf": "22"})
    register.release("set-aside/a")
    assert register.holdings() == {"originals/K07/03/r1": {X_EDF: "22"}}


def test_names_of_files_stand_there_as_codes(register):
    register.add("originals/K07/03/r1", {"Erika Mustermann.edf": "21"})
    assert "Erika" not in register.path.read_text()


def test_forgetting_leaves_no_trace_and_says_what_went(register):
    register.add("originals/K07/03/r1", {"x.edf": "21"})
    register.add("set-aside/K07 again", {"y.edf": "23"})
    register.add("originals/K08/01/r1", {"x.edf": "31"})
    register.release("set-aside/K07 again")
    gone = register.forget(lambda place: "K07" in place)
    assert gone == {"originals/K07/03/r1": {X_EDF: "21"}}
    assert "K07" not in register.path.read_text()
    assert list(register.holdings()) == ["originals/K08/01/r1"]


@pytest.mark.parametrize("cut", [1, 7, 30])
def test_a_line_that_a_crash_cut_short_is_written_over(tmp_path, cut):
    path = tmp_path / "lines"
    for number in (3, 5):
        add_line(path, {"number": number, "text": "ä" * 11})
    whole = path.read_bytes()
    path.write_bytes(whole[:-cut])
    assert [line["number"] for line in read_lines(path)] == [3]
    add_line(path, {"number": 7})
    assert [json.loads(line)["number"] for line in path.read_text().splitlines()] == [3, 7]


def test_a_damaged_line_is_named(register):
    register.add("originals/K07/03/r1", {"x.edf": "21"})
    register.path.write_bytes(register.path.read_bytes() * 2 + b"\x00\x00\n")
    with pytest.raises(AftersitError, match=r"register\.jsonl, line 3 is damaged"):
        register.holdings()
