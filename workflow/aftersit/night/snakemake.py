"""Start the workflow for a clinic."""

import subprocess
import sys
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.night.settings import NightSettings

SNAKEFILE = Path(__file__).parents[3] / "Snakefile"


PAGE_RULES = ("write_clinician", "write_handout", "finish_sitting")


def command(clinic: Clinic, night: NightSettings, *options: str) -> list[str]:
    """The command line that brings the planned sittings up to date.

    The night's own lock makes Snakemake's superfluous, and a directory lock
    would have to be cleared by hand after a crash.
    """
    return [
        sys.executable,
        "-m",
        "snakemake",
        "--snakefile",
        str(SNAKEFILE),
        "--directory",
        str(clinic.root),
        "--cores",
        str(night.cores),
        "--resources",
        f"mem_mb={night.cores * night.job_memory_mb}",
        "--keep-going",
        "--rerun-incomplete",
        "--nolock",
        "--rerun-triggers",
        "mtime",
        "input",
        "--quiet",
        "progress",
        "rules",
        *options,
    ]


def run_workflow(clinic: Clinic, night: NightSettings, lock: int, *options: str) -> int:
    """Run the workflow and return its exit code; its words go to a log.

    The log is `.aftersit/logs/workflow.log`, replaced each time. `lock` is the
    night's lock, which the workflow's process holds as well.
    """
    log = clinic.state / "logs" / "workflow.log"
    log.parent.mkdir(parents=True, exist_ok=True)
    with log.open("w") as file:
        return subprocess.run(
            command(clinic, night, *options),
            stdout=file,
            stderr=subprocess.STDOUT,
            pass_fds=(lock,),
            check=False,
        ).returncode
