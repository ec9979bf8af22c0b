"""Tables of raw BIDS: columns, order, missing values."""

import datetime as dt
from io import StringIO

import pandas as pd
import pytest

from aftersit.bids.tables import cell, events_tsv, read_tsv, scans_tsv, tsv
from aftersit.blocks import Block, from_events
from aftersit.sheet import Kind

BLOCKS = (
    Block(1, Kind.BASELINE, 2.25, 20.0, "open", "soft-alpha"),
    Block(2, Kind.PRACTICE, 20.0, 63.5, "closed", "quiet-theta"),
)


@pytest.mark.parametrize(
    ("value", "text"),
    [(None, "n/a"), (float("nan"), "n/a"), (45.0, "45"), (0.1 + 0.2, "0.3"), (7, "7"), ("a", "a")],
)
def test_cell(value, text):
    assert cell(value) == text


def test_table_is_read_back():
    text = tsv(["name", "x"], [["Fz", 0.25], ["Cz", None]])
    assert text == "name\tx\nFz\t0.25\nCz\tn/a\n"
    assert read_tsv(text) == [{"name": "Fz", "x": "0.25"}, {"name": "Cz", "x": "n/a"}]


def test_events_are_the_blocks_and_the_logged_rewards_in_order_of_time(tmp_path):
    text = events_tsv(BLOCKS, [(30.5, 1.75), (20.0, 0.5)])
    table = pd.read_csv(StringIO(text), sep="\t", keep_default_na=False)
    assert list(table.columns) == ["onset", "duration", "trial_type", "block", "eyes", "protocol"]
    assert table["onset"].tolist() == [2.25, 20.0, 20.0, 30.5]
    assert table["trial_type"].tolist()[2:] == ["reward-logged", "reward-logged"]
    assert table["protocol"].tolist() == ["soft-alpha", "quiet-theta", "n/a", "n/a"]
    (tmp_path / "e.tsv").write_text(text)
    assert from_events(tmp_path / "e.tsv") == list(BLOCKS)


def test_of_rewards_logged_at_one_moment_the_longest_is_kept():
    """Two events of one kind and onset are one annotation with a tag twice (HED 3.3.0, 3.2)."""
    text = events_tsv(BLOCKS, [(30.5, 1.75), (30.5, 2.5), (30.5, 1.75), (41.25, 0.5)])
    rewards = [row for row in read_tsv(text) if row["trial_type"] == "reward-logged"]
    assert [(row["onset"], row["duration"]) for row in rewards] == [
        ("30.5", "2.5"),
        ("41.25", "0.5"),
    ]


def test_scan_time_is_the_sheets_day_and_the_files_local_time():
    start = dt.datetime(2026, 3, 13, 17, 5, 9, 300_000)
    text = scans_tsv("eeg/a.vhdr", dt.date(2026, 3, 14), start)
    assert text == "filename\tacq_time\neeg/a.vhdr\t2026-03-14T17:05:09\n"
    assert scans_tsv("a", dt.date(2026, 3, 14), None).endswith("2026-03-14T00:00:00\n")
