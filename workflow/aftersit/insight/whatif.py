"""Reward rates with other thresholds, over the same sitting.

A threshold that sets itself is not moved: it would have gone another way. Beside one,
fixed thresholds are moved exactly, since each threshold follows its own condition alone.
"""

from collections.abc import Sequence

import numpy as np

from aftersit.findings import WhatIf, WhatIfBoth
from aftersit.insight.playback import Playback
from aftersit.insight.settings import InsightSettings
from aftersit.protocol import Condition


def steps_db(reach_db: float, step_db: float) -> np.ndarray:
    """Moves on either side of the threshold that held, 0 among them."""
    n = int(np.floor(reach_db / step_db + 1e-9))
    return np.arange(-n, n + 1) * step_db


def what_if(
    played: Playback, conditions: Sequence[Condition], settings: InsightSettings
) -> tuple[WhatIf, ...]:
    """Reward rate against each fixed threshold, the others as they were."""
    if not len(played.rows):
        return ()
    moves, count = steps_db(settings.what_if_db, settings.what_if_step_db), played.met.sum(axis=0)
    found = []
    for i in _fixed(conditions):
        with_moved = count - played.met[i] + (played.distance_db[i] > moves[:, np.newaxis])
        shares = played.rewarded(with_moved).mean(axis=-1)
        found.append(
            WhatIf(
                condition=conditions[i].name,
                stricter_db=tuple(moves.tolist()),
                reward_share=tuple(shares.tolist()),
            )
        )
    return tuple(found)


def what_if_both(
    played: Playback, conditions: Sequence[Condition], settings: InsightSettings
) -> WhatIfBoth | None:
    """Reward rate against two fixed thresholds: of the conditions that were met least."""
    fixed = _fixed(conditions)
    if len(fixed) < 2 or not len(played.rows):
        return None
    moves = steps_db(settings.what_if_db, settings.what_if_both_step_db)
    i, j = sorted(sorted(fixed, key=lambda k: played.met[k].mean())[:2])
    others = played.met.sum(axis=0) - played.met[i] - played.met[j]
    second = played.distance_db[j] > moves[:, np.newaxis]
    rates = [
        played.rewarded(others + (played.distance_db[i] > move) + second).mean(axis=-1)
        for move in moves
    ]
    return WhatIfBoth(
        conditions=(conditions[i].name, conditions[j].name),
        stricter_db=tuple(moves.tolist()),
        reward_share=tuple(tuple(row.tolist()) for row in rates),
    )


def _fixed(conditions: Sequence[Condition]) -> list[int]:
    return [i for i, c in enumerate(conditions) if not c.is_adaptive]
