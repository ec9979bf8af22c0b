"""Make one record again, apart, from the uploaded bytes, and compare."""

import json
import math
from collections.abc import Iterator
from pathlib import Path

from aftersit.change.chain import Chain
from aftersit.clinic import Clinic
from aftersit.night.layout import CLEAN, REGIONS
from aftersit.night.plan import plan_of
from aftersit.night.recompute import apart, differences_in
from aftersit.night.run_plan import run_plan
from aftersit.night.settings import NightSettings, load_night_settings

TOLERANCE = 1e-6
"""Relative. Another kind of processor adds up in another order; more than this is no rounding."""


def make_again(chain: Chain, lock: int, night: NightSettings | None = None) -> list[str]:
    """Compute a record from the uploaded bytes in a folder of its own.

    Returns
    -------
    list of str
        What does not come out the same, byte for byte; empty when all does.
    """
    clinic, entry = chain.clinic, chain.entry_as_made
    with apart(clinic, [entry]) as place:
        plan = plan_of([entry])
        run_plan(place, plan, night or load_night_settings(), lock, "--", chain.record)
        if not (place.root / chain.record).is_file():
            return [f"computing it again failed; see {plan.sittings[0].logs} of a night"]
        one = plan.sittings[0]
        parts = [str(Path(one.place(p)).parent) for p in (CLEAN, REGIONS)] + [chain.folder]
        other = [path for part in parts for path in differences_in(clinic, place, part)]
        return [f"{path} comes out otherwise" for path in other] + _how_far(chain, place, other)


def _how_far(chain: Chain, place: Clinic, other: list[str]) -> list[str]:
    if chain.record not in other:
        return []
    both = [json.loads((c.root / chain.record).read_text()) for c in (chain.clinic, place)]
    far = largest_difference(*both)
    if far <= TOLERANCE:
        return [f"numbers of the record agree to {far:.1e}, as on another kind of processor"]
    return [f"numbers of the record differ by up to {far:.1e} of themselves: this is no rounding"]


def largest_difference(one: object, two: object) -> float:
    """Largest relative difference of the numbers in two records; infinite where they differ else.

    Examples
    --------
    >>> largest_difference({"a": [2.0, "x"]}, {"a": [2.5, "x"]})
    0.2
    """
    return max(_differences(one, two), default=0.0)


def _differences(one: object, two: object) -> Iterator[float]:
    if isinstance(one, dict) and isinstance(two, dict) and one.keys() == two.keys():
        for key in one:
            yield from _differences(one[key], two[key])
    elif isinstance(one, list) and isinstance(two, list) and len(one) == len(two):
        for pair in zip(one, two, strict=True):
            yield from _differences(*pair)
    elif isinstance(one, float) and isinstance(two, float):
        yield abs(one - two) / max(abs(one), abs(two)) if one != two else 0.0
    else:
        yield 0.0 if one == two else math.inf
