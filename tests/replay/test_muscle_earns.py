"""Muscle can't earn a condition that asks for less of it."""

import numpy as np

from aftersit.blocks import Block
from aftersit.muscle.account import Measured, evidence_of, muscle_account
from aftersit.quality import Carried, Electrode, Quality
from aftersit.record import Bout
from aftersit.settings import load_settings
from aftersit.sheet import Kind

RATE_HZ = 256.0
GOOD = ("Fp1", "Fp2", "F7", "F3", "Fz", "F4", "F8", "T7", "C3", "Cz", "C4", "T8", "P7", "P3")


def quality_of(x: np.ndarray) -> Quality:
    n = len(GOOD)
    return Quality(
        rate_hz=RATE_HZ,
        duration_s=x.shape[1] / RATE_HZ,
        mains_hz=None,
        carried=Carried(low_hz=0.5, high_hz=115.0),
        electrodes=[Electrode(name=name, good=True) for name in GOOD],
        bad_spans=(),
        components=(),
        keep=(np.eye(n) - 1 / n).tolist(),
        muscle=np.zeros((n, n)).tolist(),
        eyes=np.zeros((n, n)).tolist(),
        usable_s=x.shape[1] / RATE_HZ,
        scorable=True,
    )


def test_bouts_are_judged_by_the_conditions_that_muscle_could_earn():
    """White noise, flat as no brain is, at T7 and T8; slow waves elsewhere."""
    rng = np.random.default_rng(41)
    x = np.cumsum(rng.normal(scale=0.4, size=(len(GOOD), 60 * 256)), axis=1)
    x -= x.mean(axis=1, keepdims=True)
    temples = [GOOD.index("T7"), GOOD.index("T8")]
    x[temples] += rng.normal(scale=12.0, size=(2, x.shape[1]))
    matrix = np.zeros((len(GOOD), len(GOOD)))
    matrix[temples, temples] = 0.5
    middle = np.zeros_like(matrix)
    middle[GOOD.index("Cz"), GOOD.index("Cz")] = 1.0
    measures = [
        Measured("quiet-temples", matrix, (30.0, 45.0)),
        Measured("slow-middle", middle, (4.0, 8.0)),
    ]
    settings = load_settings("s1").clean.muscle
    quality = quality_of(x)
    windows, evidence = evidence_of(x, measures, quality, settings)
    blocks = [Block(2, Kind.PRACTICE, 0.0, 60.0, "closed", "test")]
    bouts = [Bout(block=2, start_s=10.0, stop_s=22.5)]

    def conditions(less):
        found = muscle_account(windows, evidence, quality, blocks, bouts, settings, less)
        return found.bouts[0].condition, found.bouts[0].finding.verdict, found.of_block(2)

    assert conditions(frozenset())[0] == "quiet-temples"
    condition, verdict, block = conditions(frozenset({"quiet-temples"}))
    assert condition == "slow-middle"
    assert verdict == block != "suspect"
    # Where every condition asks for less there is no other to judge.
    assert conditions(frozenset({"quiet-temples", "slow-middle"}))[0] == "quiet-temples"
