"""One part of a bench alone: refusals in words, and the rules that run on real recordings."""

import pytest

from aftersit.bench import change_rules
from aftersit.cli import main


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["change", "--only", "pages"], "has the parts coverage, rescoring, rules"),
        (["night", "--only", "rules"], "has the parts empty, sitting, many, long"),
        (["regions", "--only", "rules"], "--only is for `bench night` and `bench change`"),
    ],
)
def test_an_unknown_part_is_told_with_those_there_are(capsys, arguments, told):
    assert main(["bench", *arguments]) != 0
    assert told in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.open_data
def test_a_new_threshold_runs_the_replay_alone_on_open_recordings(open_data, monkeypatch, tmp_path):
    """One recording of three minutes, a night over it, then a version with another threshold."""
    monkeypatch.setenv("AFTERSIT_OPEN_DATA", str(open_data))
    monkeypatch.setattr(change_rules, "DEMO", tmp_path / "no demo")
    (table,) = change_rules.rules_tables(quick=True)
    assert table.name == "rules-open"
    (row,) = table.rows
    assert row.pop("cpu_s") > 0
    expected = dict.fromkeys(("write_bids", "clean_recording", "measure_regions"), 0)
    assert row == expected | {
        "change": "threshold rule",
        "replay_protocol": 1,
        "write_pages": 0,
        "models": 0,
    }
