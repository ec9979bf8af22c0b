"""Start the workflow for a clinic, and follow it."""

import contextlib
import os
import select
import shutil
import sys
import tempfile
import warnings
from functools import partial
from pathlib import Path

from aftersit.children import forked, speak_to
from aftersit.clinic import Clinic
from aftersit.night.layout import WORKFLOW_LOG
from aftersit.night.progress import Watch
from aftersit.night.settings import NightSettings
from aftersit.shared_imports import serving

SNAKEFILE = Path(__file__).parents[3] / "Snakefile"
_LOOK_S = 0.25
"""Seconds between two looks at the workflow's log."""

_PAGE_RULES = ("write_pages", "finish_sitting")
ONLY_PAGES = ("--forcerun", *_PAGE_RULES, "--allowed-rules", *_PAGE_RULES)
"""Options to make the pages again, and nothing before them, whatever the clock says."""

ONLY_PROGRESS = (
    *("--forcerun", "write_progress"),
    *("--allowed-rules", "replay_protocol", "write_progress", "all"),
)
"""Options to make progress pages, whatever the clock says, and replays that they lack: what
these rest on is finished, and is not made again because a file of settings has another time
of change."""


def words(clinic: Clinic, night: NightSettings, *options: str) -> list[str]:
    """Snakemake's options to bring the planned sittings up to date.

    The night's own lock makes Snakemake's superfluous, and a directory lock
    would have to be cleared by hand after a crash.
    """
    return [
        "--snakefile",
        str(SNAKEFILE),
        "--directory",
        str(clinic.root),
        "--cores",
        str(night.cores),
        "--resources",
        f"mem_mb={night.cores * night.job_memory_mb}",
        "--scheduler",
        "greedy",  # the other one starts a solver for each choice
        "--keep-going",
        "--rerun-incomplete",
        "--nolock",
        "--rerun-triggers",
        "mtime",
        "input",
        *options,
    ]


def run_workflow(
    clinic: Clinic, night: NightSettings, lock: int, *options: str, watch: Watch | None = None
) -> int:
    """Run the workflow and return its exit code; its words go to a log.

    The log is `.aftersit/logs/workflow.log`, replaced each time. Only who holds `lock`, the
    night's, may do this: the workflow's process is a fork, so that it holds the lock as well,
    and has imported half of what it needs. It ends with this process, as its steps do with it.
    """
    log = clinic.root / WORKFLOW_LOG
    log.parent.mkdir(parents=True, exist_ok=True)
    temporary = clinic.state / "tmp"  # signals must not lie about in a folder of all users
    temporary.mkdir(exist_ok=True)
    with log.open("w") as file, log.open() as told, serving(clinic.root) as shared:
        environment = {"TMPDIR": str(temporary)} | _cache(temporary) | shared
        options = words(clinic, night, *options)
        running = forked("snakemake", partial(_snakemake, options, file.fileno(), environment))
        rest = ""
        while not _ended(running):
            rest = _show(rest + told.read(), watch)
        _show(rest + told.read(), watch)
        _, status = os.waitpid(running, 0)
    shutil.rmtree(temporary, ignore_errors=True)
    if watch:
        watch.end()
    return os.waitstatus_to_exitcode(status)


def _snakemake(options: list[str], log: int, environment: dict[str, str]) -> None:
    """Be Snakemake, as its own program would."""
    speak_to(log, log)
    warnings.resetwarnings()
    warnings.simplefilter("ignore")
    os.environ |= environment
    tempfile.tempdir = None  # else it stays what it was before the fork
    sys.argv = ["snakemake", *options]
    from snakemake.cli import args_to_api, parse_args

    parser, chosen = parse_args(options)
    # Its limit on jobs a second sets a timer going for each job done, for good, and at each
    # second of each it looks at all jobs: the more were done, the more a night would cost.
    chosen.max_jobs_per_timespan = None
    sys.exit(0 if args_to_api(chosen, parser) else 1)


def _cache(temporary: Path) -> dict[str, str]:
    """A place for Snakemake's cache where home can't be written, as in the shipped unit."""
    usual = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    with contextlib.suppress(OSError):
        usual.mkdir(parents=True, exist_ok=True)
        if os.access(usual, os.W_OK | os.X_OK):
            return {}
    return {"XDG_CACHE_HOME": str(temporary / "cache")}


def _ended(process: int) -> bool:
    """Whether a process has ended, after as long as a look may wait; sleeps until then."""
    descriptor = os.pidfd_open(process)
    try:
        ready, _, _ = select.select([descriptor], [], [], _LOOK_S)
    finally:
        os.close(descriptor)
    return bool(ready)


def _show(text: str, watch: Watch | None) -> str:
    """Hand the log's whole lines on; returns the rest."""
    *lines, rest = text.split("\n")
    if watch:
        watch.see(lines)
    return rest
