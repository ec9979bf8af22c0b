"""How often the interval of a comparison holds the truth, with clients as clusters."""

from dataclasses import dataclass

import numpy as np

from aftersit.bench.table import Table
from aftersit.change.paired import difference, interval

SEED = 72100
DRAWS, QUICK_DRAWS = 4000, 400
TRUTH = 2.5
MOST_SITTINGS = 15


@dataclass(frozen=True)
class World:
    """How clients' changes are spread, in points of time in target.

    Attributes
    ----------
    kind : str
        `normal`, `skewed` (exponential), or `few-change`: the rule matters to every third only.
    """

    clients: int
    between: float
    within: float
    kind: str = "normal"


WORLDS = (
    World(3, 6, 3),
    World(5, 6, 3),
    World(10, 6, 3),
    World(30, 6, 3),
    World(10, 2, 6),
    World(10, 6, 3, "skewed"),
    World(30, 6, 3, "skewed"),
    World(10, 6, 0, "few-change"),
    World(30, 6, 0, "few-change"),
)


def coverage_table(quick: bool) -> Table:
    """Coverage with clients as clusters, and when sittings are taken for independent."""
    draws = QUICK_DRAWS if quick else DRAWS
    rows = [_row(world, np.random.default_rng((SEED, n)), draws) for n, world in enumerate(WORLDS)]
    return Table(
        "coverage",
        "How often 95 % intervals of a mean change hold the truth",
        rows,
        (
            f"{draws} draws each, 1 to {MOST_SITTINGS} sittings a client, seed {SEED}. Standard "
            f"error {100 * np.sqrt(0.05 * 0.95 / draws):.1f} points.",
        ),
    )


def _row(world: World, rng: np.random.Generator, draws: int) -> dict:
    clustered = naive = 0
    widths = []
    for _ in range(draws):
        values, clients = _drawn(world, rng)
        found = difference(values, clients)
        clustered += found.low <= TRUTH <= found.high
        widths.append(found.high - found.low)
        low, high = interval(np.array(values))
        naive += low is not None and low <= TRUTH <= high
    return {
        "clients": world.clients,
        "between_sd": world.between,
        "within_sd": world.within,
        "kind": world.kind,
        "covered_percent": round(100 * clustered / draws, 1),
        "sittings_as_independent_percent": round(100 * naive / draws, 1),
        "median_width_points": round(float(np.median(widths)), 1),
    }


def _drawn(world: World, rng: np.random.Generator) -> tuple[list[float], list[str]]:
    values, clients = [], []
    for number in range(world.clients):
        size = int(rng.integers(1, MOST_SITTINGS + 1))
        own = TRUTH + world.between * _own(world.kind, rng)
        values += list(own + world.within * rng.normal(size=size))
        clients += [f"C{number:02d}"] * size
    return values, clients


def _own(kind: str, rng: np.random.Generator) -> float:
    """A client's own deviation, mean 0, standard deviation 1."""
    if kind == "skewed":
        return rng.exponential() - 1
    if kind == "few-change":
        return np.sqrt(2) if rng.random() < 1 / 3 else -np.sqrt(0.5)
    return rng.normal()
