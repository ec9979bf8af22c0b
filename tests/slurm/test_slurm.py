"""The same Snakefile on a real Slurm, with the profile that is shipped: the same bytes.

Slurm and MUNGE are Debian's (`slurm-wlm`, `munge`); both run as root on the loopback device.
"""

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

import nights
import pytest
from cluster import cluster, missing

from aftersit.night.snakemake import SNAKEFILE

PLUGIN = "snakemake_executor_plugin_slurm"
pytestmark = [
    pytest.mark.slow,
    pytest.mark.slurm,
    pytest.mark.skipif(bool(missing()), reason="slurm-wlm and munge are not installed"),
    pytest.mark.skipif(os.geteuid() != 0, reason="Slurm's services are started as root"),
    pytest.mark.skipif(
        importlib.util.find_spec(PLUGIN) is None, reason=f"{PLUGIN} is not installed"
    ),
]


def unmake(root: Path) -> None:
    """Remove all that the workflow made but the models."""
    made = ("bids", "reports/K01", ".aftersit/finished", ".snakemake")
    stages = [p for p in root.glob("derivatives/*") if "regions" not in p.name]
    stages += root.glob("derivatives/regions-*/sub-*")
    for folder in (*(root / name for name in made), *stages):
        shutil.rmtree(folder)


def test_slurm_makes_the_same_bytes(undisturbed, tmp_path):
    clinic = undisturbed.end(tmp_path / "clinic")
    unmake(clinic.root)
    lost = nights.differences(nights.results(clinic), undisturbed.made)
    assert any(name.endswith("record.json") for name in lost)
    command = [sys.executable, "-m", "snakemake", "--snakefile", str(SNAKEFILE)]
    command += ["--profile", str(SNAKEFILE.parent / "config" / "slurm")]
    command += ["--slurm-status-command", "squeue", "--latency-wait", "5"]
    with cluster(tmp_path / "slurm") as environment:
        done = subprocess.run(
            [*command, "--directory", str(clinic.root)],
            env=os.environ | environment,
            capture_output=True,
            text=True,
            check=False,
            umask=0o077,
            timeout=nights.MOST_S,
        )
        log = (tmp_path / "slurm" / "slurmctld.log").read_text()
    assert done.returncode == 0, done.stderr[-4000:]
    # A group for each sitting, and the client's progress pages.
    assert log.count("sched: Allocate JobId") + log.count("_slurm_rpc_submit_batch_job") >= 2
    left = nights.differences(nights.results(clinic), undisturbed.made)
    assert [name for name in left if not name.startswith(".aftersit/slurm")] == []
