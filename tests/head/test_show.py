"""The list of regions on the command line."""

import pytest

from aftersit.cli import main
from aftersit.electrodes import STANDARD_19
from aftersit.errors import AftersitError
from aftersit.files import write_json
from aftersit.head.listing import regions_table
from aftersit.head.show import as_text, as_tsv, chosen_rows, served
from aftersit.night.layout import HEAD
from small_uploads import CLINIC_SETTINGS


@pytest.fixture(scope="module")
def table(head, measures):
    return regions_table(head, measures)


@pytest.fixture
def clinic(tmp_path, head_file):
    write_json(tmp_path / "clinic.yaml", CLINIC_SETTINGS.model_dump(mode="json"))
    (tmp_path / "regions.yaml").write_text("unions:\n  salience: [insula, cuneus]\n")
    path = tmp_path / HEAD.format(settings="s1")
    path.parent.mkdir(parents=True)
    path.write_bytes(head_file.read_bytes())
    return tmp_path


def test_text_has_a_line_for_each_region(table, head):
    text = as_text(chosen_rows(table, ["insula"]), head.names)
    head_line, _, columns, left, right, both, *notes = text.split("\n")
    assert head_line.startswith("19 electrodes: Fp1, Fp2")
    assert columns.split()[:4] == ["region", "side", "cm2", "centre"]
    assert [line.split()[1] for line in (left, right, both)] == ["left", "right", "both"]
    assert "37 -2 1" in right or "37 -1 1" in right
    assert "superiortemporal-right 11" in right
    assert "each is a direction of view" in " ".join(notes)


def test_tsv_holds_all_columns(table):
    lines = as_tsv(chosen_rows(table, ["insula-right", "cuneus-both"])).split("\n")
    assert len(lines) == 3
    assert lines[0].split("\t") == list(table.columns)
    assert "n/a" in lines[1]


def test_unknown_region_names_the_nearest(table):
    with pytest.raises(AftersitError, match="no region insulla; nearest: insula; there are: bank"):
        chosen_rows(table, ["insulla", "cuneus"])


def test_old_names_are_understood_and_left_out_ones_must_be_there():
    assert served(("T3", "Cz", "P8"), ("T6",)) == ("T7", "Cz")
    with pytest.raises(AftersitError, match="O1 can't be left out: not among T7, Cz"):
        served(("T7", "Cz"), ("O1",))
    with pytest.raises(AftersitError, match="'A1' is no electrode of the 10-10 system"):
        served(("Fz", "A1"), ())


def test_command_lists_the_clinics_own_unions(clinic, capsys):
    code = main(["regions", "salience-left", "--clinic", str(clinic), "--without", "F8,P7"])
    out = capsys.readouterr().out
    assert code == 0
    assert out.startswith("17 electrodes: Fp1")
    assert out.split("\n")[3].split()[:2] == ["salience", "left"]


def test_command_tells_a_mistake_in_one_line(clinic, capsys):
    assert main(["regions", "nowhere", "--clinic", str(clinic)]) == 1
    assert capsys.readouterr().err.startswith("aftersit: there is no region nowhere;")


@pytest.mark.parametrize(("names", "few"), [("Fz,Cz", True), (",".join(STANDARD_19[2:]), False)])
def test_a_list_for_too_few_electrodes_has_a_caution(clinic, capsys, names, few):
    """Intake takes 16 of the standard electrodes; seventeen are enough."""
    assert main(["regions", "insula", "--clinic", str(clinic), "--electrodes", names]) == 0
    said = capsys.readouterr()
    assert ("CAUTION: 2 of the standard electrodes are too few" in said.err) is few
    assert "-0.0" not in said.out
