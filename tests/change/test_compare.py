"""What compare says, against the records read with a few lines of pandas."""

import json
import re
import shutil

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from small_archive import ALPHA, TEMPLES, correct_sheet, write_protocol

from aftersit.change.compare import MEASURES, compare, comparison
from aftersit.change.replay import replay
from aftersit.change.select import Request
from aftersit.change.sides import Side
from aftersit.clinic import Clinic
from aftersit.errors import AftersitError
from aftersit.night.erase import erase
from aftersit.tsv import read_table

HARDER = ALPHA | {"threshold": {"db_over_baseline": 1.3}}
BOTH = (Side.parse("calm-sea/v1"), Side.parse("calm-sea/v2"))
OTHER_BAND = ALPHA | {"band_hz": [5, 9]}


@pytest.fixture(scope="module")
def both(made, tmp_path_factory):
    """The archive scored under version 2 as well, one sitting left out."""
    clinic = Clinic(shutil.copytree(made, tmp_path_factory.mktemp("both") / "clinic"))
    write_protocol(clinic, 2, (HARDER, TEMPLES))
    replay(clinic, Request(protocol="calm-sea", version=2, only_try=True), lambda _: None)
    shutil.rmtree(clinic.root / "derivatives/replay-s1-calm-sea-v2/sub-M12/ses-02")
    return clinic


@pytest.fixture(scope="module")
def page(both):
    lines = compare(both, "calm-sea/v1", "calm-sea/v2", None)
    return lines, both.reports / "versions-compared" / "calm-sea-v1-and-calm-sea-v2"


def frame(clinic) -> pd.DataFrame:
    """Independent of the package: the JSON files, flat."""
    rows = []
    for version in (1, 2):
        for path in sorted(
            clinic.root.glob(f"derivatives/replay-s1-calm-sea-v{version}/*/*/*.json")
        ):
            if path.name != "record.json":
                continue
            told = json.loads(path.read_text())
            blocks = pd.json_normalize(told["cleaned"]["blocks"])
            blocks = blocks[blocks["scored"]]
            known = blocks["seconds.reward_s"] + blocks["seconds.no_reward_s"]
            alpha = [
                next(c["median_db"] for c in cs if c["name"] == "alpha")
                for cs in blocks["conditions"]
            ]
            rows.append(
                {
                    "client": told["client"],
                    "sitting": told["sitting"],
                    "version": version,
                    "target": 100 * blocks["seconds.reward_s"].sum() / known.sum(),
                    "bouts": len(told["cleaned"]["bouts"]),
                    "longest": max(
                        (b["stop_s"] - b["start_s"] for b in told["cleaned"]["bouts"]), default=0
                    ),
                    "alpha_db": np.average(alpha, weights=known),
                }
            )
    wide = pd.DataFrame(rows).pivot(index=["client", "sitting"], columns="version").dropna()
    return wide


@pytest.mark.parametrize(
    ("column", "measure"),
    [("target", MEASURES[0]), ("bouts", MEASURES[1]), ("longest", MEASURES[2])],
)
def test_figures_are_those_of_pandas(both, column, measure):
    wide = frame(both)
    change = (wide[column][2] - wide[column][1]).groupby("client").mean()
    plain = stats.ttest_1samp(change, 0).confidence_interval(0.95)
    # Johnson 1978, J Am Stat Assoc 73:536: both ends move for skewness.
    moved = ((change - change.mean()) ** 3).mean() / (6 * len(change) * change.var())
    found = comparison(both, *BOTH)
    told = found.difference(measure)
    assert told.sittings == 5
    assert told.mean == pytest.approx(change.mean(), abs=1e-6)
    assert (told.low, told.high) == pytest.approx((plain.low + moved, plain.high + moved), abs=1e-6)


def test_the_table_is_that_of_pandas(both, page):
    _, folder = page
    told = read_table(folder / "compare.tsv").query("condition == 'alpha'")
    told = told.set_index(["client", "sitting"])
    wide = frame(both)
    for column, theirs in (
        ("in_target_percent", "target"),
        ("bouts", "bouts"),
        ("longest_bout_s", "longest"),
        ("distance_db", "alpha_db"),
    ):
        for side, version in (("a", 1), ("b", 2)):
            assert told[f"{side}_{column}"].to_numpy() == pytest.approx(
                wide[theirs][version].to_numpy(), abs=2e-3
            )


def test_a_harder_threshold_is_named_as_the_reason_with_its_size(both):
    """From 0.4 to 1.3 dB over baseline: 0.9 dB harder, and the measure is the same."""
    found = comparison(both, *BOTH)
    for row in found.rows:
        ((code, what, amount),) = [(w.code, w.what, w.amount) for w in row.why]
        assert (code, what) == ("threshold", "alpha")
        assert amount == pytest.approx(-0.9, abs=0.01)


def test_another_band_is_named_as_a_moved_measure(clinic):
    write_protocol(clinic, 2, (OTHER_BAND, TEMPLES))
    replay(clinic, Request(protocol="calm-sea", version=2, only_try=True), lambda _: None)
    found = comparison(clinic, *BOTH)
    assert {w.what for r in found.rows for w in r.why} == {"alpha"}
    assert "measure" in {w.code for r in found.rows for w in r.why}


def test_timing_is_named_as_the_reason(clinic):
    timing = {"smoothing_s": 0.5, "update_s": 0.125, "onset_s": 2.5, "release_s": 0.25}
    write_protocol(clinic, 2, (ALPHA, TEMPLES), timing=timing)
    replay(clinic, Request(protocol="calm-sea", version=2, only_try=True), lambda _: None)
    found = comparison(clinic, *BOTH)
    assert {tuple(w.code for w in r.why) for r in found.rows} == {("timing",)}


def test_the_first_lines_say_what_a_decision_rests_on(both, page):
    lines, _ = page
    wide = frame(both)
    change = wide["target"][2] - wide["target"][1]
    assert lines[0] == "5 sittings under both calm-sea/v1 (A) and calm-sea/v2 (B)"
    assert re.search(r"lower by \d+\.\d\spoints on average over 3 clients", lines[1])
    down, up = (change < 0).sum(), (change > 0).sum()
    assert f"lower in {down}," in lines[2]
    assert lines[2].startswith("Time in target: higher under B in no sittings") == (up == 0)
    assert any("1 sitting could not be compared" in line for line in lines)


def test_the_page_says_the_same_with_reasons_differences_and_commands(page):
    lines, folder = page
    html = (folder / "compare.html").read_text()
    assert lines[1].split(",")[0] in html
    assert "conditions.alpha.threshold.db_over_baseline: 0.4 → 1.3" in html
    assert "replay --protocol calm-sea --version 2 --clinic FOLDER" in html
    assert "alpha: threshold 0.9\N{NO-BREAK SPACE}dB harder to meet" in html
    assert "../../K07/02/clinician.html" in html


def test_the_page_is_the_same_bytes_twice(both, page, tmp_path):
    _, folder = page
    compare(both, "calm-sea/v1", "calm-sea/v2", tmp_path / "again")
    assert (tmp_path / "again/compare.tsv").read_bytes() == (folder / "compare.tsv").read_bytes()


@pytest.mark.parametrize("text", ["calm-sea", "calm-sea/2", "S1", "s1:calm-sea", "s1.x", ""])
def test_what_is_nothing_to_compare_is_refused(text):
    with pytest.raises(AftersitError, match="is nothing to compare; write PROTOCOL/vN"):
        Side.parse(text)


@pytest.mark.parametrize(
    ("text", "label", "protocol", "version"),
    [
        ("calm-sea/v12", None, "calm-sea", 12),
        ("s2", "s2", None, None),
        ("s1.3", "s1.3", None, None),
        ("s2.4:calm-sea/v3", "s2.4", "calm-sea", 3),
    ],
)
def test_sides_are_read(text, label, protocol, version):
    side = Side.parse(text)
    assert (side.label, side.protocol, side.version) == (label, protocol, version)


def test_nothing_to_compare_with_says_what_to_run(both):
    write_protocol(both, 7, (HARDER, TEMPLES))  # scored by nobody yet
    with pytest.raises(AftersitError, match="no sitting has results under both"):
        compare(both, "calm-sea/v1", "calm-sea/v7", None)


def test_results_of_an_earlier_sheet_are_not_compared_with_newer_ones(clinic):
    """A night after a corrected sheet makes only what is in force again, not what was tried."""
    write_protocol(clinic, 2, (HARDER, TEMPLES))
    try_it = Request(protocol="calm-sea", version=2, only_try=True)
    replay(clinic, try_it, lambda _: None)
    correct_sheet(clinic, "K07", 2)
    found = comparison(clinic, *BOTH)
    assert "K07/02" not in {str(row.pair.sitting) for row in found.rows}
    assert (len(found.rows), found.pairs.other_sheet, found.pairs.only_b) == (5, 1, 0)
    lines = compare(clinic, "calm-sea/v1", "calm-sea/v2", None)
    told = "1 sitting could not be compared: one side was made from an earlier sheet; replay again."
    assert told in lines
    html = clinic.reports / "versions-compared/calm-sea-v1-and-calm-sea-v2/compare.html"
    assert told in html.read_text()
    replay(clinic, try_it, lambda _: None)
    found = comparison(clinic, *BOTH)
    assert (len(found.rows), found.pairs.other_sheet) == (6, 0)


def test_results_that_do_not_say_what_they_were_made_from_are_not_compared(both, tmp_path):
    clinic = Clinic(shutil.copytree(both.root, tmp_path / "clinic"))
    for folder in clinic.root.glob("derivatives/replay-s1-calm-sea-v2/*/*"):
        (folder / "made_from.json").unlink()
    with pytest.raises(AftersitError, match="for 5, one side was made from an earlier sheet"):
        comparison(clinic, *BOTH)


def test_a_record_that_somebody_edited_is_not_compared(both, tmp_path):
    clinic = Clinic(shutil.copytree(both.root, tmp_path / "clinic"))
    path = clinic.root / "derivatives/replay-s1-calm-sea-v2/sub-T05/ses-01/record.json"
    told = json.loads(path.read_text())
    told["cleaned"]["in_target_share"] = 0.8125
    path.write_text(json.dumps(told))
    with pytest.raises(AftersitError) as refused:
        comparison(clinic, *BOTH)
    assert str(refused.value) == (
        "records are not as they were written: T05/01 under calm-sea v2; `replay --try` for the "
        "same versions makes them again"
    )
    replay(clinic, Request(protocol="calm-sea", version=2, only_try=True), lambda _: None)
    assert len(comparison(clinic, *BOTH).rows) == 6


def test_an_erased_client_leaves_no_comparison_behind(clinic):
    import datetime as dt

    write_protocol(clinic, 2, (HARDER, TEMPLES))
    replay(clinic, Request(protocol="calm-sea", version=2, only_try=True), lambda _: None)
    compare(clinic, "calm-sea/v1", "calm-sea/v2", None)
    erase(clinic, "K07", dt.date(2026, 5, 7))
    left = [p for p in clinic.root.rglob("*") if p.is_file() and b"K07" in p.read_bytes()]
    assert [p for p in left if ".snakemake" not in p.parts] == []
