"""The page and the table: what they say, and that nothing is missing."""

import io

import numpy as np
import pandas as pd
import pytest

from aftersit.cli import parser
from aftersit.errors import AftersitError
from aftersit.evidence import check, limits, page, run
from aftersit.evidence.bench_figures import READERS, RECORDED, figures
from aftersit.evidence.given import Given
from aftersit.evidence.open_effects import Effect
from aftersit.evidence.open_results import group_words
from aftersit.evidence.result import Result
from aftersit.evidence.texts import texts
from aftersit.plain_yaml import load_plain_yaml
from aftersit.tsv import read_table

FIRST, *OTHERS = check.all_checks()
RECORDINGS = [one for one in OTHERS if one.group == "recordings"]


@pytest.fixture
def evidence(given):
    passed = page.Outcome(FIRST, Result("7 <uV^2>", "none", "7 uV^2", True))
    failed = page.Outcome(OTHERS[0], Result("3", "none", "4", False))
    rest = [page.Outcome(one, None, "not run: for this test") for one in OTHERS[1:]]
    told = limits.limits(given, given.new_folder())
    effect = Effect("An effect", "it rises", (("MA00", "-1.5 dB"),), "no interval")
    return page.Evidence([passed, failed, *rest], told, (effect,))


def test_the_page_counts_what_passed_failed_and_was_not_run(evidence):
    found = page.counts(evidence.outcomes)
    total = len(check.all_checks())
    assert (found["checks"], found["passed"], found["failed"]) == (total, 1, 1)
    assert found["not run"] == total - 2
    assert [o.check.id for o in evidence.failed] == [OTHERS[0].id]


def test_page_and_table_are_the_same_bytes_twice_and_hold_every_check(evidence, tmp_path):
    for name in ("one", "two"):
        page.write_page(evidence, tmp_path / name)
    for file in ("validation.html", "validation.tsv"):
        assert (tmp_path / "one" / file).read_bytes() == (tmp_path / "two" / file).read_bytes()
    table = read_table(tmp_path / "one" / "validation.tsv")
    assert table["id"].tolist() == [c.id for c in check.all_checks()]
    assert table["result"].tolist()[:3] == ["pass", "FAILS", "not run"]


def test_what_a_check_says_is_escaped(evidence):
    text = page.html(evidence)
    assert "7 &lt;µV²&gt;" in text
    assert "it rises" in text
    assert "−1.5\u00a0dB" in text
    assert "Not run: no folder" not in text
    assert "Not run: no folder" in page.html(page.Evidence(evidence.outcomes, evidence.limits))


@pytest.mark.parametrize(
    ("plain", "printed"),
    [
        ("-2.5 dB left; 8-13 Hz", "−2.5\u00a0dB left; 8-13\u00a0Hz"),
        ("9.6e-16 uV^2, 3 sources", "9.6e-16\u00a0µV², 3 sources"),
        ("1 - (1 - p)^2, of 34 % (-0.7)", "1 - (1 - p)², of 34\u00a0% (−0.7)"),
    ],
)
def test_numbers_are_printed_with_their_signs_and_stay_with_their_units(plain, printed):
    assert page._printed(plain) == printed


def test_limits_have_figures_and_no_bracket_is_left(evidence):
    told = {limit.name: limit.sentence for limit in evidence.limits}
    assert len(told) == len(texts().limits) == 13
    assert not [s for s in told.values() if "{" in s]
    assert "7.9 %" in told["One place"].replace("\N{NO-BREAK SPACE}", " ")


BENCHES = {
    "regions-summary": (
        "measure\twhat\tmedian\thighest\nsloreta\tcontrast error, dB\t0.213\t0.47\n",
        "0.21 dB (root mean square) for the median region and by 0.47 dB",
    ),
    "cleaning-drowsy-hits": (
        "sittings\tspells\tspells found\na\t30\t61\nb\t10\t89\n",
        "68 of 100 are found, by kind 61 to 89",
    ),
    "cleaning-muscle-errors": (
        "level\tmuscle\tuncleaned\tours\n3 dB\tall kinds\t3.31\t0.512\n6 dB\tall kinds\t5.2"
        "\t0.66\n6 dB\tjaw\t7.7\t2.3\n10 dB\tall kinds\t8.87\t1.234\n",
        "off by 3.3, 5.2 and 8.9 dB before cleaning, and still by 0.51, 0.66 and 1.23 dB",
    ),
    "replay-truth": (
        "rise_db\tmuscle_db\tkappa_mean\tbias_points\n3\tn/a\t0.81\t-1.43\n6\tn/a\t0.92\t-0.61\n"
        "9\tn/a\t0.97\t-0.32\n6\t6\t0.5\t9\n",
        "kappa 0.81 where the brain rises by 3 dB, 0.92 at 6 dB and 0.97 at 9 dB; the share of "
        "time in target is off by 1.4, 0.6 and 0.3 points on average",
    ),
    "replay-changes": (
        "change_db\tcoverage_percent\tfound_percent\n0\t93.5\t6.5\n0\t95.2\t4.8\n2\t94.1\t77\n",
        "in 93.5 to 95.2 of 100 simulated cases. Where nothing changed, 4.8 to 6.5 of 100",
    ),
    "replay-open-rest": (
        "recording\tfalse_alarm_percent\na\t3.1\nall\t5.3\n",
        "and 5.3 of 100 on open rest recordings",
    ),
    "replay-advice": (
        "protocol\twithin_10_percent\na\t71\nb\tn/a\nc\t83\n",
        "in 71 to 83 of 100 cases",
    ),
}
"""Table of a bench -> its rows, made up, and what the page says then."""


@pytest.mark.parametrize("name", BENCHES)
def test_tables_of_a_bench_that_ran_here_win(name, tmp_path):
    rows, said = BENCHES[name]
    (tmp_path / f"{name}.tsv").write_text(rows)
    (key,) = (key for key, (table, _) in READERS.items() if table == name)
    keys = ("changes", "rest") if key in ("changes", "rest") else (key,)
    found, basis = figures(tmp_path, *keys)
    words = texts().limits["changes" if key == "rest" else key].sentence.format(**found)
    assert said in words
    assert f"bench/{name}.tsv, made here" in basis


def test_recorded_figures_fill_the_same_places_as_measured_ones(tmp_path):
    recorded = load_plain_yaml(RECORDED)
    assert recorded.keys() == READERS.keys()
    for name, (rows, _) in BENCHES.items():
        (key,) = (key for key, (table, _) in READERS.items() if table == name)
        measured = READERS[key][1](pd.read_csv(io.StringIO(rows), sep="\t"))
        assert measured.keys() == recorded[key].keys()


def test_every_item_of_a_checklist_says_where_or_why_not():
    crednf, cobidas = texts().checklists
    assert [i.id for i in crednf.items][:3] == ["1a", "1b", "2a"]
    assert len(crednf.items) == 23  # Ros et al. 2020, table 1, from memory
    assert all(len(i.where) > 15 for i in (*crednf.items, *cobidas.items))


def test_a_group_of_people_has_students_interval():
    """By hand: mean 2, s 1, n 3, t 4.303, so 2.48 on either side."""
    assert group_words(np.array([1.0, 2.0, 3.0])) == (
        "mean +2.0 dB, 95 % interval -0.5 to +4.5 dB, 3 people"
    )
    assert group_words(np.array([])).startswith("not run: the folder holds no such pair")
    assert group_words(np.array([1.5])).startswith("no interval: it takes at least two people")


def test_a_check_that_breaks_is_one_that_fails(given):
    broken = check.Check("power.x", "power", "A check", "tone", (), lambda given, fact: 1 / 0)
    outcome = run.run_one(broken, given)
    assert outcome.state == "FAILS"
    assert "ZeroDivisionError" in outcome.result.measured


def test_what_can_not_be_run_says_why(given):
    lacking = check.Check("power.x", "power", "A check", "tone", ("no_such_module",), None)
    assert "no_such_module" in run.run_one(lacking, given).why_not


@pytest.mark.parametrize("one", RECORDINGS, ids=lambda c: c.id)
def test_a_check_of_recordings_that_are_not_there_is_not_run(one, tmp_path):
    """Neither passed nor failed, and no night is run to find out."""
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "other.edf").write_bytes(b"")
    outcome = run.run_one(one, Given(tmp_path, tmp_path / "data"))
    assert (outcome.state, outcome.result) == ("not run", None)
    assert outcome.cells[7].startswith("not run: the folder holds no ")
    assert not list(tmp_path.glob("check-*"))


def test_a_folder_without_recordings_is_an_error(tmp_path):
    with pytest.raises(AftersitError, match=r"no recording \(\.edf\) lies under"):
        run.gather(tmp_path, False, lambda line: None)


def test_the_command_takes_its_folders(tmp_path):
    options = parser().parse_args(["validate", "--into", str(tmp_path), "--faults"])
    assert (options.into, options.faults) == (tmp_path, True)
