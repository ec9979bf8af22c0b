"""Times of change that lie in the future, after a clock was wrong or on files from elsewhere.

Snakemake takes a step for failed whose input is newer than its output, so that such a
file would stop its sitting until the clock has caught up with it.
"""

import contextlib
import os
import time
from collections.abc import Iterable, Iterator
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.night.client_pages import progress_pages
from aftersit.night.contents import entries
from aftersit.night.facts import facts_folder
from aftersit.night.kept_settings import settings_file
from aftersit.night.layout import CLEAN, HEAD, PLAUSIBLE, RAW, REGIONS, REPORT
from aftersit.night.ledger import Ledger
from aftersit.night.plan import Plan, PlannedSitting
from aftersit.pages.review import review_path
from aftersit.protocol import protocol_path


def mend_times(clinic: Clinic, plan: Plan) -> None:
    """Give everything that the planned sittings are made from, and of, a time that has been."""
    shared = (clinic.root / name for name in ("clinic.yaml", "words.yaml", "regions.yaml"))
    _bring_back(shared, time.time())
    for one in plan.known:
        _bring_back(_files_of(clinic, one), time.time())


def _bring_back(paths: Iterable[Path], now_s: float) -> None:
    for path in paths:
        with contextlib.suppress(FileNotFoundError, PermissionError):
            if path.lstat().st_mtime > now_s:
                os.utime(path, (now_s, now_s), follow_symlinks=False)


def _files_of(clinic: Clinic, one: PlannedSitting) -> Iterator[Path]:
    yield settings_file(clinic, one.settings)
    yield review_path(clinic, one.sitting)
    yield Ledger(clinic).path(one.sitting)
    yield from (clinic.root / page for page in progress_pages(one.client))
    for name, version in one.protocols.items():
        yield protocol_path(clinic.kept_protocols, name, version)
    for model in (HEAD, PLAUSIBLE):
        yield clinic.root / one.place(model)
    results = (one.place(p) for p in (RAW, CLEAN, REGIONS))
    folders = [one.first_original, one.original, *one.replay_folders, one.place(REPORT)]
    folders += [str(Path(result).parent) for result in results]
    for folder in (*(clinic.root / f for f in folders), facts_folder(clinic, one.sitting)):
        yield from entries(folder)
