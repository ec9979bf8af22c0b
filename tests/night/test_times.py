import os
import time

import pytest
from uploads import make_clinic

from aftersit.clinic import Clinic
from aftersit.night.client_pages import progress_pages
from aftersit.night.facts import facts_folder
from aftersit.night.ledger import Entry, Revision
from aftersit.night.plan import plan_of
from aftersit.night.times import mend_times

YEAR_S = 365 * 86400


@pytest.fixture
def sitting(tmp_path):
    """A clinic, a plan of one sitting in its second revision, and a file of every kind of it."""
    clinic = Clinic(make_clinic(tmp_path / "clinic"))
    entry = Entry(
        client="K07",
        number=3,
        date="2026-03-14",
        recording_sha256="ab",
        revisions=[Revision(number=n, upload="u", sheet_sha256=f"{n}") for n in (1, 2)],
        protocols={"soft-alpha": 1},
        settings="s1",
    )
    plan = plan_of([entry])
    one = plan.sittings[0]
    files = [f"{f}/sitting.yaml" for f in (one.first_original, one.original)]
    files += [path for paths in one.stages.values() for path in paths if path != one.stamp]
    files += [".aftersit/protocols/soft-alpha/v1.yaml", ".aftersit/reviews/K07-03.json"]
    files += [".aftersit/ledger/K07-03.json", *progress_pages("K07")]
    files += [str((facts_folder(clinic, one.sitting) / "a.json").relative_to(clinic.root))]
    paths = [clinic.root / f for f in files]
    for path in paths:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x")
    return clinic, plan, [*paths, clinic.settings_file, clinic.root / one.original]


def test_no_time_lies_in_the_future(sitting):
    clinic, plan, paths = sitting
    for path in paths:
        os.utime(path, (time.time() + YEAR_S,) * 2)
    mend_times(clinic, plan)
    assert [p for p in paths if p.stat().st_mtime > time.time()] == []


def test_times_that_have_been_stay(sitting):
    clinic, plan, paths = sitting
    for number, path in enumerate(paths):
        os.utime(path, (10**9 + number,) * 2)
    mend_times(clinic, plan)
    assert [p.stat().st_mtime for p in paths] == [10**9 + n for n in range(len(paths))]
