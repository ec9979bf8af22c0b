"""Replay statistics: rates, false alarms, intervals and lengths, against closed forms and scipy."""

import numpy as np
from scipy import fft, signal, stats

from aftersit.evidence.check import check
from aftersit.evidence.facts import Fact
from aftersit.evidence.given import Given
from aftersit.evidence.result import Result, alike, at_most, between, both, near, same
from aftersit.head.bands import bands
from aftersit.insight import chance as chances
from aftersit.insight import elsewhere, longrun, survival
from aftersit.insight.playback import Playback
from aftersit.replay import adaptive, logic

SEED = 20260301


def ar1(phi: float, n_cases: int, n: int, seed: int = SEED) -> np.ndarray:
    """AR(1) with standard deviation 1, started long before."""
    noise = np.random.default_rng(seed).normal(size=(n_cases, n + 500))
    return signal.lfilter([np.sqrt(1 - phi**2)], [1, -phi], noise)[:, 500:]


@check(
    "replay", "joint-rate", "Two conditions joined by 'all' are met as the bivariate normal says"
)
def joint_rate(given: Given, fact: Fact) -> Result:
    found = []
    for p, r, _ in fact["p_r_joint"]:
        cov = [[1, r], [r, 1]]
        pair = np.random.default_rng(12).multivariate_normal([0, 0], cov, 120_000).T
        cut = np.full((2, 1), stats.norm.ppf(1 - p))
        met = logic.is_met(pair, cut, "above")
        found.append(logic.reward(logic.gate(met, 2), 0, 0).mean())
    return near(found, [row[2] for row in fact["p_r_joint"]], abs=0.012)


@check(
    "replay",
    "any-rate",
    "Two unrelated conditions joined by 'any' are met 1 - (1 - p)^2 of the time",
    fact="joint-rate",
)
def any_rate(given: Given, fact: Fact) -> Result:
    met = np.random.default_rng(14).random((2, 100_000)) < 0.3
    return near(logic.gate(met, 1).mean(), 1 - 0.7**2, abs=0.006)


@check("replay", "decibels", "Distances to a threshold are 10 log10 of the ratio, above and below")
def decibels(given: Given, fact: Fact) -> Result:
    value, threshold = np.array([8.0, 2.0]), np.array([4.0, 4.0])
    found = [logic.distance_db(value, threshold, way) for way in ("above", "below")]
    d = fact["doubled_db"]
    return near(np.concatenate(found), [d, -d, -d, d], abs=1e-3, unit="dB")


@check("replay", "adaptive-rate", "An adaptive threshold settles where its target rate is met")
def adaptive_rate(given: Given, fact: Fact) -> Result:
    value, rates, targets = np.random.default_rng(5).gamma(3, size=40_000), [], []
    for target in (0.3, 0.65):
        for way in ("above", "below"):
            limit = adaptive.adapted(value, 20.0, way, target, 0.05)[:-1]
            met = value > limit if way == "above" else value < limit
            rates.append(met[5000:].mean())
            targets.append(target)
    return near(rates, targets, abs=0.01)


@check(
    "replay",
    "adaptive-hides-learning",
    "A rising signal shows in a fixed rate, not in an adaptive one",
)
def adaptive_hides(given: Given, fact: Fact) -> Result:
    n = 60_000
    value = np.random.default_rng(6).gamma(3, size=n) * 10 ** (np.linspace(0, 3, n) / 10)
    moving = value > adaptive.adapted(value, 3.0, "above", 0.65, 0.05)[:-1]
    fixed = value > np.quantile(value[: n // 6], 0.35)
    rise = [row[-n // 6 :].mean() - row[: n // 6].mean() for row in (moving, fixed)]
    return both(near(rise[0], 0, abs=0.04), between(rise[1], fact["fixed_rise_at_least"], 1))


@check(
    "replay",
    "false-alarms",
    "Of two halves of one process few differ, where a plain t-test finds many",
)
def false_alarms(given: Given, fact: Fact) -> Result:
    plain, ours = [], []
    for phi in fact["phi"]:
        x = ar1(phi, 1500, 1200)
        before, after = x[:, :600], x[:, 600:]
        plain.append((stats.ttest_ind(before, after, axis=1).pvalue < 0.05).mean())
        ours.append((longrun.compare(before, after, 2).p < 0.05).mean())
    return both(
        between(ours, 0.03, 0.065),
        near(plain, fact["plain_rates"], abs=0.035),
    )


@check(
    "replay",
    "planted-change",
    "Intervals of a change hold the planted one 95 times in 100",
    fact="false-alarms",
)
def planted_change(given: Given, fact: Fact) -> Result:
    covered = []
    for phi in (0.5, 0.9):
        x = ar1(phi, 1500, 800, SEED + 1)
        found = longrun.compare(x[:, :300], x[:, 300:] + 1.7, 2)
        covered.append(((found.low < 1.7) & (found.high > 1.7)).mean())
    return near(covered, [0.95, 0.95], abs=0.025)


@check("replay", "cosines", "The variance of a mean is that of scipy's cosine transform")
def cosines(given: Given, fact: Fact) -> Result:
    x = np.random.default_rng(3).normal(4, 2, size=(5, 37))
    theirs = (fft.dct(x, type=2, norm="ortho")[:, 1:4] ** 2).mean(axis=1) / 37
    return alike(longrun.mean_variance(x, 3), theirs, rel=1e-10)


@check("replay", "welch-test", "With all cosines a comparison is scipy's test of unequal variances")
def welch_test(given: Given, fact: Fact) -> Result:
    rng = np.random.default_rng(4)
    before, after = rng.normal(2, 1, 12), rng.normal(5, 3, 12)
    ours, test = longrun.compare(before, after, 11), stats.ttest_ind(after, before, equal_var=False)
    ends = test.confidence_interval(0.95)
    return near([ours.low, ours.high, ours.p], [ends.low, ends.high, test.pvalue], rel=1e-6)


@check(
    "replay", "exact-interval", "A share of independent trials has Clopper and Pearson's interval"
)
def exact_interval(given: Given, fact: Fact) -> Result:
    shares = np.array([1, 0, 0, 1, 1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0], float)
    theirs = stats.binomtest(6, 20).proportion_ci(0.95, method="exact")
    none = longrun.share_interval(np.zeros(30), 6)[1]
    ours = [*longrun.share_interval(shares, 19), none]
    # The sample variance divides by n - 1 where the n trials do by n.
    return near(ours, [theirs.low, theirs.high, 1 - 0.025 ** (1 / 30)], abs=0.012)


@check("replay", "two-shares", "A difference of two shares has the published intervals")
def two_shares(given: Given, fact: Fact) -> Result:
    def side(hits: int, trials: int) -> tuple[float, tuple[float, float]]:
        wilson = stats.binomtest(hits, trials).proportion_ci(0.95, method="wilson")
        return hits / trials, tuple(wilson)

    pairs = zip(fact["before"], fact["after"], strict=True)
    found = [longrun.square_and_add(*side(*before), *side(*after)) for before, after in pairs]
    return near(found, fact["limits"], abs=1e-4)


@check("replay", "survival", "Lengths cut short: the estimate on the published trial")
def survived(given: Given, fact: Fact) -> Result:
    weeks = np.array(fact["weeks"], float)
    ended = ~np.isin(np.arange(len(weeks)), fact["cut_places"])
    at, share, _, _ = survival.kaplan_meier(weeks, ended)
    published = {float(k): v for k, v in fact["shares"].items()}
    ours = [share[at.tolist().index(week)] for week in published]
    return near(ours, list(published.values()), abs=0.0006)


def played(distance: np.ndarray) -> Playback:
    """Distances to thresholds as two blocks."""
    n = distance.shape[1]
    limits = ((0, n // 2), (n // 2, n))
    return Playback(distance, limits, limits, np.arange(n), 0.125, len(distance), 0, 0)


def related(seed: int, n: int, r: float, phi: float = 0.9) -> np.ndarray:
    """Two AR(1) series whose values at a time correlate with r."""
    x = signal.lfilter(
        [np.sqrt(1 - phi**2)], [1, -phi], np.random.default_rng(seed).normal(size=(2, n + 300))
    )
    return np.linalg.cholesky([[1, r], [r, 1]]) @ x[:, 300:]


def by_chance(given: Given, distance: np.ndarray, leakage: np.ndarray | None = None):
    """What chance would have given, with 59 shifts of at least 5 s."""
    settings = given.settings.replay.insight.model_copy(update={"shifts": 59, "shift_min_s": 5})
    return chances.chance(played(distance), None, leakage, settings, seed=5)


@check("replay", "chance", "Unrelated conditions meet as often as the product of their rates")
def by_product(given: Given, fact: Fact) -> Result:
    x = related(8, 60_000, 0.0, 0.5)
    edges = np.quantile(x, 0.3, axis=1, keepdims=True)
    found = by_chance(given, x - edges)
    return near(found.unrelated.together_share, 0.7 * 0.7, abs=0.01)


@check(
    "replay", "leakage-chance", "Leakage alone gives the bivariate normal rate", fact="joint-rate"
)
def leakage_chance(given: Given, fact: Fact) -> Result:
    x = related(8, 60_000, 0.0, 0.5)
    p, r, joint = fact["p_r_joint"][1]
    edges = np.quantile(x, 1 - p, axis=1, keepdims=True)
    found = by_chance(given, x - edges, np.array([[1, r], [r, 1]]))
    return near(found.only_leakage.together_share, joint, abs=0.012)


@check(
    "replay",
    "least-p",
    "A planted relation is found, and p is never below 1 / (shifts + 1)",
    fact="chance",
)
def least_p(given: Given, fact: Fact) -> Result:
    found = by_chance(given, related(3, 4000, 0.7) + 0.3)
    return near(found.unrelated.p, 1 / 60, rel=1e-9)


@check(
    "replay",
    "no-relation",
    "On unrelated conditions p is below 0.05 in about 5 of 100",
    fact="chance",
)
def no_relation(given: Given, fact: Fact) -> Result:
    p = [by_chance(given, related(100 + k, 3000, 0.0) + 0.3).unrelated.p for k in range(100)]
    return at_most(np.mean(np.array(p) <= 0.05), 0.12)


@check("replay", "shared-bands", "Leakage counts by the part that two bands share")
def shared_bands(given: Given, fact: Fact) -> Result:
    one, other, far = (_condition(*band) for band in ((8, 13), (10, 14), (20, 30)))
    # In one band, by tr(AB) / sqrt(tr(AA) tr(BB)), correlated by sqrt(1/2).
    forms = [[np.diag([1.0, 0])], [np.diag([0.5, 0.5])], [np.diag([0.5, 0.5])]]
    between_them = chances.leakage_between([one, other, far], forms, np.eye(2))
    found = [between_them[0, 1], between_them[0, 2]]
    return near(found, [np.sqrt(0.5) * 3 / np.sqrt(20), 0], rel=1e-9)


def _condition(low_hz: float, high_hz: float):
    from aftersit.protocol import Condition

    return Condition.model_validate(
        {
            "name": f"band-{low_hz}",
            "where": {"region": "precuneus"},
            "band_hz": [low_hz, high_hz],
            "direction": "above",
            "threshold": {"absolute": 2.0},
        }
    )


@check("replay", "timing", "Onset and release last at least as long as the protocol asks")
def timing(given: Given, fact: Fact) -> Result:
    held = np.array([c == "#" for c in "..####....#.#..."])
    found = "".join("#" if on else "." for on in logic.reward(held, 2, 2))
    return same([found, logic.steps_for(0.26, 0.125)], ["....####........", 3], number=True)


@check(
    "replay",
    "many-tests",
    "Of many regions and bands, what is named holds the false discovery rate",
)
def many_tests(given: Given, fact: Fact) -> Result:
    p = np.array(fact["p_values"])[:, np.newaxis]
    scan = _Scan(p, given.settings.replay.insight)
    return near(len(scan(None).found), fact["named"])


class _Scan(elsewhere.RegionScan):
    """The scan over regions, with comparisons that are given."""

    def __init__(self, p: np.ndarray, settings):
        self._keys = [f"region-{k}" for k in range(len(p))]
        self._bands, self._settings, self._p = list(bands()[2:3]), settings, p

    def compared(self, around) -> longrun.Comparison:
        return longrun.Comparison(self._p, self._p - 1, self._p + 1, self._p)
