"""Where one sitting's files lie, as patterns that the rules and the plan both fill in.

Relative to the clinic's folder; names without an ending take one.
"""

from pathlib import Path

from aftersit.clinic import TASK, Clinic

SITTING = "sub-{client}/ses-{sitting}"
STEM = f"sub-{{client}}_ses-{{sitting}}_task-{TASK}"
RAW = f"bids/{SITTING}/eeg/{STEM}"
CLEAN = f"derivatives/clean-{{settings}}/{SITTING}/eeg/{STEM}_desc-clean"
REGIONS = f"derivatives/regions-{{settings}}/{SITTING}/{STEM}"
HEAD = "derivatives/regions-{settings}/models/standard19/head.npz"
PLAUSIBLE = "derivatives/regions-{settings}/models/standard19/plausible.npz"
REPLAY = f"derivatives/replay-{{settings}}-{{protocol}}-v{{version}}/{SITTING}"
PROTOCOL = ".aftersit/protocols/{protocol}/v{version}.yaml"
REPORT = "reports/{client}/{sitting}"
COMPARED = "reports/versions-compared"
"""Where comparisons go; no client's code has a hyphen."""
PROGRESS = "reports/{client}/progress"
LOGS = ".aftersit/logs/{client}-{sitting}"
WORKFLOW_LOG = ".aftersit/logs/workflow.log"
PROGRESS_LOGS = ".aftersit/logs/{client}-progress"
STAMP = ".aftersit/finished/{client}-{sitting}-r{revision}.sha256"


def erasing_path(clinic: Clinic) -> Path:
    """Where an erasure that is under way is written down."""
    return clinic.state / "erasing.json"
