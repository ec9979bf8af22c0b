"""What all commands share: how they are added, where the clinic is, how a line is said."""

import argparse
from collections.abc import Callable

Add = Callable[..., argparse.ArgumentParser]
"""Takes a command's name, function, one line on it, and parents."""


def clinic_of(options: argparse.Namespace):
    """The clinic that `--clinic` names."""
    from aftersit.clinic import Clinic

    return Clinic(options.clinic.resolve())


def say(line: str) -> None:
    """Print a line that is seen at once, by a terminal and by a journal."""
    print(line, flush=True)
