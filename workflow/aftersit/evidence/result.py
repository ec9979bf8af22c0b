"""What a check found: expected, tolerance, measured, passed; and the usual comparisons."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np


class NotRunError(Exception):
    """What a check looks at is not there; says what. It neither passes nor fails."""


@dataclass(frozen=True)
class Result:
    """What one check found, in words and numbers for a table.

    Attributes
    ----------
    expected, tolerance, measured : str
    passed : bool
    number : bool
        Whether numbers were compared, not only texts or sets.
    """

    expected: str
    tolerance: str
    measured: str
    passed: bool
    number: bool = True


def near(
    measured: object,
    expected: object,
    *,
    rel: float = 0.0,
    abs: float = 0.0,
    unit: str = "",
) -> Result:
    """Whether every number lies within |difference| <= abs + rel |expected|."""
    ours, theirs = np.asarray(measured, float), np.asarray(expected, float)
    passed = ours.shape == theirs.shape and np.allclose(ours, theirs, rtol=rel, atol=abs)
    parts = [f"{rel:.2g} of it" if rel else "", f"{abs:.2g}{_after(unit)}" if abs else ""]
    tolerance = " and ".join(part for part in parts if part) or "none"
    return Result(shown(theirs, unit), tolerance, shown(ours, unit), bool(passed))


def alike(measured: np.ndarray, expected: np.ndarray, *, rel: float) -> Result:
    """Whether two arrays agree: the largest difference over the largest expected value."""
    ours, theirs = np.asarray(measured), np.asarray(expected)
    if ours.shape != theirs.shape:
        return Result(f"shape {theirs.shape}", "none", f"shape {ours.shape}", False)
    scale = np.abs(theirs).max()
    off = float(np.abs(ours - theirs).max() / scale) if scale else float(np.abs(ours).max())
    expected_words = f"{theirs.size} equal numbers" if theirs.size > 1 else "an equal number"
    return Result(expected_words, f"{rel:.0e} of the largest", f"off by {off:.1e}", off <= rel)


def between(measured: object, low: float, high: float, unit: str = "") -> Result:
    """Whether every number lies between two limits, ends included."""
    ours = np.asarray(measured, float)
    passed = bool(((ours >= low) & (ours <= high)).all() and ours.size)
    return Result(f"{low:.4g} to {high:.4g}{_after(unit)}", "none", shown(ours, unit), passed)


def at_most(measured: object, high: float, unit: str = "") -> Result:
    """Whether every number is at most a limit."""
    ours = np.asarray(measured, float)
    passed = bool((ours <= high).all() and ours.size)
    return Result(f"at most {high:.4g}{_after(unit)}", "none", shown(ours, unit), passed)


def at_least(measured: object, low: float, unit: str = "") -> Result:
    """Whether every number is at least a limit."""
    ours = np.asarray(measured, float)
    passed = bool((ours >= low).all() and ours.size)
    return Result(f"at least {low:.4g}{_after(unit)}", "none", shown(ours, unit), passed)


def same(measured: object, expected: object, *, number: bool = False) -> Result:
    """Whether two things are equal, shown as texts."""
    return Result(_text(expected), "none", _text(measured), measured == expected, number)


def both(*results: Result) -> Result:
    """One result of several: all must pass."""
    return Result(
        "; ".join(r.expected for r in results),
        "; ".join(dict.fromkeys(r.tolerance for r in results)),
        "; ".join(r.measured for r in results),
        all(r.passed for r in results),
        any(r.number for r in results),
    )


def shown(values: np.ndarray, unit: str = "") -> str:
    """Numbers for a table: all of a few, else the ends and the middle."""
    flat = np.asarray(values, float).ravel()
    if flat.size > 8:
        low, middle, high = flat.min(), np.median(flat), flat.max()
        return f"{low:.4g} to {high:.4g}, median {middle:.4g}{_after(unit)} ({flat.size} numbers)"
    return ", ".join(f"{v:.5g}" for v in flat) + _after(unit)


def _after(unit: str) -> str:
    return f" {unit}" if unit else ""


def _text(value: object) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    if value is None or (isinstance(value, Sequence | set | dict) and not value):
        return "none"
    if isinstance(value, dict):
        return ", ".join(f"{k}: {_text(v)}" for k, v in value.items())
    if isinstance(value, Sequence):
        return ", ".join(_text(v) for v in value)
    if isinstance(value, set | frozenset):
        return ", ".join(sorted(map(_text, value)))
    return str(value)
