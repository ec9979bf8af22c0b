"""The clinician's control that moves thresholds: the decisions that its page carries.

Each decision of a scored block is kept as the number of steps that a threshold could
be tightened with the condition still met. One byte holds it, and within the control's
reach the page decides exactly as the replay does, since a condition is met by a
threshold moved by `m` steps if and only if its number is at least `m`.
"""

import base64
from dataclasses import dataclass

import numpy as np
import pandas as pd

from aftersit.pages.format import place
from aftersit.pages.inputs import Replayed, SittingInputs
from aftersit.pages.rules import band_words, threshold_words
from aftersit.record import BlockResult, ConditionResult
from aftersit.replay import logic
from aftersit.replay.timeline import STATE_NAMES

STEP_DB = 0.1
REACH_STEPS = 60
"""The control moves thresholds by up to this many steps to either side."""
NOT_KNOWN = -128
_FURTHEST = 127


@dataclass(frozen=True)
class Control:
    """What the page needs for one protocol; `data` is its JSON."""

    name: str
    conditions: tuple[dict, ...]
    data: dict

    @property
    def reach_steps(self) -> int:
        """How far a slider goes."""
        return REACH_STEPS

    @property
    def rows(self) -> list[str]:
        """Rows of its table of numbers, in the order in which its script fills them."""
        return ["all blocks", *(f"block {b['index']}" for b in self.data["blocks"])]

    @property
    def movable(self) -> tuple[dict, ...]:
        """The conditions whose threshold is fixed."""
        return tuple(c for c in self.conditions if c["movable"])


def control(inputs: SittingInputs, replay: Replayed, name: str) -> Control | None:
    """The control of one scored protocol; None where no threshold is fixed.

    Parameters
    ----------
    name : str
        Name inside the page; the control's ids start with it.
    """
    table, timing = replay.cleaned, replay.protocol.timing
    conditions = [c for c in replay.record.conditions if not c.refused]
    if table is None or all(c.rule == "adaptive" for c in conditions):
        return None
    scored = [b for b in replay.record.cleaned.blocks if b.scored]
    rows = [np.flatnonzero(table["block"].to_numpy() == b.index) for b in scored]
    steps = _known_steps(table.iloc[np.concatenate(rows)], conditions)
    told = tuple(_condition(c, i) for i, c in enumerate(conditions))
    data = {
        "stepDb": STEP_DB,
        "updateS": timing.update_s,
        "needed": replay.protocol.needed,
        "onsetSteps": logic.steps_for(timing.onset_s, timing.update_s),
        "releaseSteps": logic.steps_for(timing.release_s, timing.update_s),
        "notKnown": NOT_KNOWN,
        "blocks": [
            _block(b, table["time_s"].iloc[r[0]], len(r), timing.update_s, inputs)
            for b, r in zip(scored, rows, strict=True)
        ],
        "conditions": [
            c | {"steps": base64.b64encode(row.tobytes()).decode("ascii")}
            for c, row in zip(told, steps, strict=True)
        ],
    }
    return Control(name, told, data)


def tightened_steps(distance_db: np.ndarray, met: np.ndarray) -> np.ndarray:
    """How many steps a threshold can be tightened with the condition still met.

    Parameters
    ----------
    distance_db : ndarray, shape (n,)
        Distance to the threshold; NaN where it is not known.
    met : ndarray of bool, shape (n,)
        What the replay decided: it decides about a step of zero, where files have
        rounded the distance.

    Returns
    -------
    ndarray of int8, shape (n,)
    """
    with np.errstate(invalid="ignore"):
        steps = np.ceil(distance_db / STEP_DB) - 1
    steps = np.where(met, np.maximum(steps, 0), np.minimum(steps, -1))
    steps = np.clip(steps, -_FURTHEST, _FURTHEST)
    return np.where(np.isnan(distance_db), NOT_KNOWN, steps).astype(np.int8)


def _known_steps(table: pd.DataFrame, conditions: list[ConditionResult]) -> list[np.ndarray]:
    known = table["state"].isin(STATE_NAMES[-2:]).to_numpy()
    found = []
    for c in conditions:
        value = table[f"{c.name}_value"].to_numpy(float)
        threshold = table[f"{c.name}_threshold"].to_numpy(float)
        distance = logic.distance_db(value, threshold, c.direction)
        met = table[f"{c.name}_met"].to_numpy(float) == 1
        found.append(tightened_steps(np.where(known, distance, np.nan), met))
    return found


def _block(block: BlockResult, first_s: float, n: int, update_s: float, inputs) -> dict:
    """A block's limits; its first decision holds from its start, its last to its end."""
    first_s = round(first_s / update_s) * update_s
    duration_s = inputs.quality.duration_s
    return {
        "index": block.index,
        "n": n,
        "firstS": block.start_s if first_s <= block.start_s + 1e-9 else first_s,
        "gridS": first_s,
        "stopS": duration_s if duration_s < block.stop_s - 1e-9 else block.stop_s,
    }


def _condition(condition: ConditionResult, index: int) -> dict:
    return {
        "name": condition.name,
        "words": f"{place(condition.place, condition.kind)}, {band_words(condition)}",
        "rule": threshold_words(condition),
        "movable": condition.rule != "adaptive",
        "above": condition.direction == "above",
        "index": index,
    }
