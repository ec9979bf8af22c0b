"""Where exports keep what is not handed over."""

from pathlib import Path

from aftersit.clinic import Clinic

WORKPLACE = "export-writing"


def workplace(clinic: Clinic) -> Path:
    """Where a bag is made; what a killed export leaves here means nothing."""
    return clinic.state / WORKPLACE


def left_out_path(clinic: Clinic, name: str) -> Path:
    """What an export left out, by client code, and why: private."""
    return clinic.state / "exports" / f"{name}.left-out.csv"
