"""Reward rates with other thresholds, over the same sitting."""

import numpy as np

from aftersit.findings import WhatIf, WhatIfBoth
from aftersit.insight.playback import Playback
from aftersit.insight.settings import InsightSettings


def steps_db(reach_db: float, step_db: float) -> np.ndarray:
    """Moves on either side of the threshold that held, 0 among them."""
    n = int(np.floor(reach_db / step_db + 1e-9))
    return np.arange(-n, n + 1) * step_db


def what_if(
    played: Playback, names: tuple[str, ...], settings: InsightSettings
) -> tuple[WhatIf, ...]:
    """Reward rate against each threshold, the others as they were."""
    if not len(played.rows):
        return ()
    moves, count = steps_db(settings.what_if_db, settings.what_if_step_db), played.met.sum(axis=0)
    found = []
    for name, distance, met in zip(names, played.distance_db, played.met, strict=True):
        with_moved = count - met + (distance > moves[:, np.newaxis])
        shares = played.rewarded(with_moved).mean(axis=-1)
        found.append(
            WhatIf(
                condition=name,
                stricter_db=tuple(moves.tolist()),
                reward_share=tuple(shares.tolist()),
            )
        )
    return tuple(found)


def what_if_both(
    played: Playback, names: tuple[str, ...], settings: InsightSettings
) -> WhatIfBoth | None:
    """Reward rate against two thresholds: of the conditions that were met least."""
    if len(names) < 2 or not len(played.rows):
        return None
    moves = steps_db(settings.what_if_db, settings.what_if_both_step_db)
    i, j = sorted(np.argsort(played.met.mean(axis=1), kind="stable")[:2].tolist())
    others = played.met.sum(axis=0) - played.met[i] - played.met[j]
    second = played.distance_db[j] > moves[:, np.newaxis]
    rates = [
        played.rewarded(others + (played.distance_db[i] > move) + second).mean(axis=-1)
        for move in moves
    ]
    return WhatIfBoth(
        conditions=(names[i], names[j]),
        stricter_db=tuple(moves.tolist()),
        reward_share=tuple(tuple(row.tolist()) for row in rates),
    )
