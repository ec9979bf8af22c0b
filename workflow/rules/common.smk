# What the rules share: the plan, where files lie, and how a step is started.
import os
import sys
from pathlib import Path

from aftersit.clinic import Clinic
from aftersit.night.facts import facts_file
from aftersit.night.kept_settings import regions_file, settings_file as file_of_settings
from aftersit.night.layout import CLEAN, HEAD, LOGS, PLAUSIBLE, PROTOCOL, RAW, REGIONS
from aftersit.night.layout import PROGRESS, PROGRESS_LOGS, REPLAY, REPORT, STAMP
from aftersit.night.ledger import Ledger
from aftersit.night.plan import read_plan
from aftersit.pages.review import review_path

THE_PLAN = read_plan(Clinic(Path.cwd()))
PLAN = {(s.client, s.sitting.label): s for s in THE_PLAN.known}

STEPS = Path(workflow.basedir) / "scripts"


wildcard_constraints:
    client="[A-Za-z0-9]+",
    sitting="[0-9]+",
    settings="[a-z0-9]+(\\.[0-9]+)?",
    protocol="[a-z][a-z0-9-]*",
    version="[0-9]+",
    revision="[0-9]+",


# One thread each, so that sums are made in the same order everywhere; this
# environment's own Python first, so that a job on another machine finds it. A step
# takes the place of its shell, so that it sees when this process dies.
shell.prefix(
    "set -euo pipefail; export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 MKL_NUM_THREADS=1"
    f" MNE_DONTWRITE_HOME=true PATH='{Path(sys.executable).parent}':$PATH"
    f" AFTERSIT_WORKFLOW={os.getpid()}; umask 077; exec "
)


def planned(wildcards):
    """The planned sitting that a job is about."""
    return PLAN[wildcards.client, wildcards.sitting]


def settings_file(wildcards):
    """The settings version that a file's folder names."""
    return file_of_settings(Clinic(Path()), wildcards.settings)


def first_settings(wildcards):
    """The settings version under which a sitting was received."""
    return file_of_settings(Clinic(Path()), planned(wildcards).received_settings)


def of_sitting(pattern):
    """An input function: the pattern with the sitting's own settings version filled in."""
    return lambda wildcards: pattern.format(settings=planned(wildcards).settings, **wildcards)


def first_original(wildcards):
    """The folder with the recording, the same in all revisions; its files' names may be anything."""
    return planned(wildcards).first_original


def sheet_facts(wildcards):
    """What the signal's path needs of the sheet."""
    return facts_file(Clinic(Path()), planned(wildcards).sitting)


def timelines(wildcards):
    """Both timelines of each replay."""
    folders = planned(wildcards).replay_folders
    return [f"{f}/timeline-{kind}.tsv" for f in folders for kind in ("cleaned", "uncleaned")]


def sheet_file(wildcards):
    """The sheet of the newest revision."""
    return planned(wildcards).sheet


def own_words(_):
    """The clinic's own sentences, when it has any."""
    return ["words.yaml"] if Path("words.yaml").is_file() else []


def own_regions(wildcards):
    """The clinic's own unions of regions under these settings, when it has any."""
    found = regions_file(Clinic(Path()), wildcards.settings)
    return [found] if found else []


def review_file(wildcards):
    """The review of a sitting's handout, when there is one."""
    path = review_path(Clinic(Path()), planned(wildcards).sitting)
    return [path] if path.is_file() else []


def stamps():
    """The stamp of every planned sitting: it asks for all of its pages."""
    return [sitting.stamp for sitting in THE_PLAN.sittings]


def progress_pages():
    """The progress pages that the plan asks for."""
    return [f"{PROGRESS.format(client=client)}.html" for client in THE_PLAN.clients]


def yardstick_of(wildcards):
    """Name and version of the protocol that a client's sittings are compared by."""
    return "/".join(map(str, THE_PLAN.yardstick(wildcards.client)))


def yardstick_records(wildcards):
    """Replays that a progress page needs; those of earlier nights only where one is missing."""
    name, version = THE_PLAN.yardstick(wildcards.client)
    sittings = THE_PLAN.of_client(wildcards.client)
    records = [(s, f"{s.replay_folder(name, version)}/record.json") for s in sittings]
    old = THE_PLAN.history
    return [path for s, path in records if s not in old or not Path(path).is_file()]


def stamps_of(wildcards):
    """Stamps of a client's sittings that this run finishes."""
    old = THE_PLAN.history
    return [s.stamp for s in THE_PLAN.of_client(wildcards.client) if s not in old]


def ledger_entries(wildcards):
    """What is known of a client's sittings; when it was written down decides nothing."""
    found = (Ledger(Clinic(Path())).path(s.sitting) for s in THE_PLAN.of_client(wildcards.client))
    return [ancient(str(path)) for path in found]


def numbers_of(wildcards):
    """Numbers of a client's sittings in the plan."""
    return [s.number for s in THE_PLAN.of_client(wildcards.client)]
