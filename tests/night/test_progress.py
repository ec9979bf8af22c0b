"""What the workflow's log says, as it really is, in a bar or in plain lines."""

import io

import pytest

from aftersit.night.progress import Progress, Watch

# From a run of Snakemake 9.15 over one sitting (paths shortened).
LOG = """\
Building DAG of jobs...
Job stats:
job                count
---------------  -------
all                    1
clean_recording        2
finish_sitting         2
write_bids             1
write_pages            2
total                  8

Select jobs to execute...
Execute 1 jobs...

[Wed Nov 25 16:30:48 2026]
localrule write_bids:
    input: originals/K01/01/r1
    jobid: 3
    reason: Missing output files: bids/sub-K01
    wildcards: client=K01, sitting=01
    resources: tmpdir=/tmp
[Wed Nov 25 16:30:51 2026]
Finished jobid: 3 (Rule: write_bids)
1 of 8 steps (12%) done

[Wed Nov 25 16:30:51 2026]
localrule clean_recording:
    input: bids/sub-K01
    jobid: 4
    wildcards: settings=s1, client=K01, sitting=01
""".splitlines()
COSTS = {"clean_recording": 8.0, "write_bids": 1.5, "write_pages": 4.5, "finish_sitting": 0.1}


@pytest.fixture
def progress():
    found = Progress()
    for line in LOG:
        found.feed(line)
    return found


def test_steps_are_counted_by_their_cost(progress):
    total = 2 * COSTS["clean_recording"] + COSTS["write_bids"]
    total += 2 * (COSTS["write_pages"] + COSTS["finish_sitting"])
    assert progress.share == pytest.approx(1.5 / total)
    assert progress.sittings == (0, 2)
    assert progress.running == {"4": "K01/01 cleaning"}


def test_the_rest_takes_as_long_as_its_share(progress):
    assert progress.left_s(30.0) == pytest.approx(30 * (1 - progress.share) / progress.share)
    assert Progress().left_s(30.0) is None


@pytest.mark.parametrize(
    ("gone_s", "told"),
    [(0.5, "10 s"), (3.4, "50 s"), (7.2, "110 s"), (7.4, "2 min"), (13.4, "4 min")],
)
def test_the_last_two_minutes_are_told_in_tens_of_seconds(gone_s, told):
    """Of 26.7 parts 1.6 are done, so that 15.7 times as long is left."""
    clock, lines = iter([0.0, gone_s]), []
    watch = Watch(lines.append, None, lambda: next(clock))
    watch.see([*LOG, "[x]", "Finished jobid: 9 (Rule: finish_sitting)"])
    assert lines[0].endswith(f", about {told} left")


def test_a_bar_on_a_terminal_is_cleared_at_the_end(monkeypatch):
    monkeypatch.setenv("COLUMNS", "90")
    clock = iter([0.0, 60.0])
    screen = io.StringIO()
    watch = Watch(pytest.fail, screen, lambda: next(clock))
    watch.see(LOG)
    shown = screen.getvalue()
    assert shown.startswith("\r[#")
    assert "0 of 2 sittings, about 17 min left  K01/01 cleaning" in shown
    assert len(shown) == 90
    watch.end()
    assert screen.getvalue().endswith("\r" + " " * 89 + "\r")


def test_without_a_terminal_each_finished_sitting_is_a_line():
    said = []
    clock = iter([0.0, 60.0, 61.0])
    watch = Watch(said.append, None, lambda: next(clock))
    watch.see(LOG)
    assert said == []
    watch.see(["Finished jobid: 7 (Rule: finish_sitting)"])
    watch.see(["nothing of interest"])
    assert said == ["1 of 2 sittings made, about 16 min left"]
