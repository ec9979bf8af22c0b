"""A Slurm of one node on this machine, without accounting, in a folder of its own."""

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

PROGRAMS = ("munged", "slurmctld", "slurmd", "sbatch", "squeue", "sinfo")
USUAL_CONF = Path("/etc/slurm/slurm.conf")
_CONF = """\
ClusterName=loopback
SlurmctldHost={host}(127.0.0.1)
SlurmctldPort={ports[0]}
SlurmdPort={ports[1]}
SlurmUser=root
AuthType=auth/munge
AuthInfo=socket={folder}/munge.socket
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
MpiDefault=none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core_Memory
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
MinJobAge=600
ReturnToService=2
StateSaveLocation={folder}/state
SlurmdSpoolDir={folder}/spool
SlurmctldPidFile={folder}/slurmctld.pid
SlurmdPidFile={folder}/slurmd.pid
SlurmctldLogFile={folder}/slurmctld.log
SlurmdLogFile={folder}/slurmd.log
NodeName={host} NodeAddr=127.0.0.1 CPUs=2 RealMemory=6000 State=UNKNOWN
PartitionName=all Nodes=ALL Default=YES MaxTime=INFINITE State=UP
"""


def missing() -> list[str]:
    """Programs that are not installed, and a Slurm that this machine has already."""
    if USUAL_CONF.exists():
        return [f"no other {USUAL_CONF}"]
    return [name for name in PROGRAMS if shutil.which(name, path=_path()) is None]


def _path() -> str:
    return f"{os.environ['PATH']}:/usr/sbin:/sbin"


@contextmanager
def cluster(folder: Path) -> Iterator[dict[str, str]]:
    """Run it; yields what must stand in the environment of its users."""
    for name in ("state", "spool"):
        (folder / name).mkdir(parents=True)
    key = folder / "munge.key"
    key.write_bytes(os.urandom(128))
    key.chmod(0o600)
    conf = folder / "slurm.conf"
    host = socket.gethostname().partition(".")[0]
    conf.write_text(_CONF.format(host=host, ports=_free_ports(2), folder=folder))
    environment = {"PATH": _path()}
    own = [f"--{what}-file={folder}/munge.{what}" for what in ("key", "pid", "log", "seed")]
    munged = ["munged", "--foreground", "--force", f"--socket={folder}/munge.socket", *own]
    with ExitStack() as running:
        running.enter_context(_in_its_usual_place(conf))
        for command in (munged, ["slurmctld", "-D"], ["slurmd", "-D", "-N", host]):
            running.enter_context(_running(command, environment))
            time.sleep(1)
        _wait_for_node(environment)
        yield environment


@contextmanager
def _in_its_usual_place(conf: Path) -> Iterator[None]:
    """Steps of a job look for their settings there, whatever the environment says."""
    USUAL_CONF.parent.mkdir(exist_ok=True)
    USUAL_CONF.symlink_to(conf)
    try:
        yield
    finally:
        USUAL_CONF.unlink()


@contextmanager
def _running(command: list[str], environment: dict[str, str]) -> Iterator[None]:
    process = subprocess.Popen(
        command,
        env=os.environ | environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        yield
    finally:
        process.terminate()
        process.wait()


def _wait_for_node(environment: dict[str, str]) -> None:
    for _ in range(120):
        told = subprocess.run(
            ["sinfo", "-h", "-o", "%t"],
            env=os.environ | environment,
            capture_output=True,
            text=True,
            check=False,
        )
        if told.stdout.strip() == "idle":
            return
        time.sleep(0.5)
    raise AssertionError(f"the node is not ready: {told.stdout} {told.stderr}")


def _free_ports(count: int) -> list[int]:
    with ExitStack() as taken:
        ports = []
        for _ in range(count):
            one = taken.enter_context(socket.socket())
            one.bind(("127.0.0.1", 0))
            ports.append(one.getsockname()[1])
        return ports
