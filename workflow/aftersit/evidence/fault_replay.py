"""Deliberate faults in replay statistics."""

import numpy as np
from scipy import stats

from aftersit.evidence.fault_parts import scaled, with_argument
from aftersit.evidence.faults import Fault
from aftersit.head.leakage import co_variation

REPLAY = (
    Fault(
        "any-for-all",
        ("replay",),
        "one condition is enough where all are asked",
        (("aftersit.replay.logic.gate", with_argument(1, lambda n: 1)),),
    ),
    Fault(
        "all-for-any",
        ("replay",),
        "all conditions are asked where one is enough",
        (("aftersit.replay.logic.gate", lambda f: lambda met, n: f(met, len(met))),),
    ),
    Fault(
        "amplitude-decibels",
        ("replay",),
        "decibels are 20 log10 of a ratio of powers",
        (("aftersit.replay.logic.distance_db", scaled(2)),),
    ),
    Fault(
        "eased-when-met",
        ("replay",),
        "an adaptive threshold is eased when it was met",
        (("aftersit.replay.adaptive.adapted", with_argument(3, lambda rate: 1 - rate)),),
    ),
    Fault(
        "threshold-stands",
        ("replay",),
        "an adaptive threshold never moves",
        (("aftersit.replay.adaptive.adapted", with_argument(4, lambda step: 0.0)),),
    ),
    Fault(
        "plain-t-test",
        ("replay",),
        "neighbouring values are taken as independent",
        (("aftersit.insight.longrun.compare", lambda f: _plain),),
    ),
    Fault(
        "few-cosines",
        ("replay",),
        "one cosine too many is left out of the variance",
        (("aftersit.insight.longrun.mean_variance", lambda f: lambda x, n: f(x, n) * n / (n + 1)),),
    ),
    Fault(
        "share-as-normal",
        ("replay",),
        "a share's interval is that of a mean",
        (
            (
                "aftersit.insight.longrun.share_interval",
                lambda f: lambda x, *a: (x.mean() - 0.1, x.mean() + 0.1),
            ),
        ),
    ),
    Fault(
        "added-not-squared",
        ("replay",),
        "two shares' intervals are added as they are",
        (
            (
                "aftersit.insight.longrun.square_and_add",
                lambda f: lambda p, a, q, b: (b[0] - a[1], b[1] - a[0]),
            ),
        ),
    ),
    Fault(
        "cut-is-ended",
        ("replay",),
        "bouts that were cut short count as ended",
        (
            (
                "aftersit.insight.survival.kaplan_meier",
                with_argument(1, lambda ended: np.ones(len(ended), bool)),
            ),
        ),
    ),
    Fault(
        "same-shift",
        ("replay",),
        "all conditions are shifted alike",
        (
            (
                "aftersit.insight.chance._shifted",
                lambda f: lambda v, p, s: f(v, p, s[:, :1] * [[[1], [1]]]),
            ),
        ),
    ),
    Fault(
        "either-for-both",
        ("replay",),
        "chance counts when either condition is met",
        (
            (
                "aftersit.insight.chance._expected",
                lambda f: lambda p, met, t: f(p, met | met[:, ::-1], t),
            ),
        ),
    ),
    Fault(
        "p-of-zero",
        ("replay",),
        "a p value may be zero",
        (
            (
                "aftersit.insight.chance.Expected",
                lambda c: lambda **k: c(**(k | {"p": max(k["p"] - 1 / 60, 0.0)})),
            ),
        ),
    ),
    Fault(
        "too-small-p",
        ("replay",),
        "p values are told ten times too small",
        (
            (
                "aftersit.insight.chance.Expected",
                lambda c: lambda **k: c(**(k | {"p": k["p"] / 10})),
            ),
        ),
    ),
    Fault(
        "bands-all-share",
        ("replay",),
        "leakage counts as if all bands were one",
        (
            (
                "aftersit.insight.chance.leakage_between",
                lambda f: lambda conditions, m, c: co_variation(np.stack([a for a, *_ in m]), c),
            ),
        ),
    ),
    Fault(
        "no-onset",
        ("replay",),
        "onset time is not waited for",
        (("aftersit.replay.logic.reward", with_argument(1, lambda steps: 0)),),
    ),
    Fault(
        "no-correction",
        ("replay",),
        "many tests are judged one by one",
        (("aftersit.insight.elsewhere.stats.false_discovery_control", lambda f: lambda p, **k: p),),
    ),
    Fault(
        "leakage-ignored",
        ("replay",),
        "leakage alone is taken for nothing",
        (("aftersit.insight.chance._leaking", lambda f: lambda p, s, r: f(p, s, np.eye(len(r)))),),
    ),
)


def _plain(before, after, *_):
    from aftersit.insight.longrun import Comparison

    test = stats.ttest_ind(after, before, axis=-1)
    ends = test.confidence_interval(0.95)
    change = after.mean(axis=-1) - before.mean(axis=-1)
    return Comparison(change, ends.low, ends.high, test.pvalue)
