"""Which part of the head a measure is seen from, as plain words name it."""

import functools
import re
from pathlib import Path

from aftersit.plain_yaml import load_plain_yaml
from aftersit.record import ConditionResult

LOBES = Path(__file__).parents[3] / "shared" / "lobes.yaml"

# First letters of 10-20 names: frontal pole, frontal, central, temporal, parietal, occipital.
_LETTERS = {"Fp": "front", "F": "front", "C": "top", "T": "side", "P": "back", "O": "back"}


@functools.cache
def lobes() -> dict[str, str]:
    """Part of the head by Desikan-Killiany region."""
    return {region: part for part, names in load_plain_yaml(LOBES).items() for region in names}


def head_part(condition: ConditionResult) -> str:
    """Key under `place` of the words file: `side_right`, `middle`, `several`."""
    if condition.kind == "region":
        region, _, side = condition.place.rpartition("-")
        part = lobes().get(region.replace("-", ""), "several")
        return _keyed(part, {side})
    names = condition.place.split("+")
    parts = {_part_of(name) for name in names}
    return _keyed(parts.pop(), {_side_of(n) for n in names}) if len(parts) == 1 else "several"


def _keyed(part: str, sides: set[str]) -> str:
    """The middle has no sides; both sides together have no side of their own."""
    if part in ("middle", "several") or sides not in ({"left"}, {"right"}):
        return part
    return f"{part}_{sides.pop()}"


def _part_of(electrode: str) -> str:
    match = re.match(r"Fp|[FCTPO]", electrode)
    return _LETTERS[match[0]] if match else "several"


def _side_of(electrode: str) -> str:
    """Odd numbers are left, even ones right (10-20 system), z is the midline."""
    digits = re.search(r"\d+$", electrode)
    return "both" if digits is None else ("left" if int(digits[0]) % 2 else "right")
