"""Age groups, and whether enough people are alike in what might tell who they are."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from aftersit.bids.tables import MISSING

_STARTS = (0, 18, 30, 40, 50, 60, 70, 80)
AGE_GROUPS = (*(f"{a}-{b - 1}" for a, b in pairwise(_STARTS)), "80+")
"""`0-17`, `18-29`, `30-39`, ... `80+`: the last holds all ages from 80, and so those that
BIDS (89) and the HIPAA privacy rule (90, 45 CFR 164.514(b)(2)(i)(C)) want lumped."""


def age_group(age: str) -> str:
    """The group of an age in years as text; `n/a` stays what it is.

    Examples
    --------
    >>> age_group("17"), age_group("89"), age_group("n/a")
    ('0-17', '80+', 'n/a')
    """
    if age == MISSING:
        return MISSING
    return AGE_GROUPS[sum(float(age) >= start for start in _STARTS) - 1]


@dataclass(frozen=True)
class Person:
    """What the bag tells of one person beside the signal."""

    research_id: str
    age_group: str
    sex: str
    handedness: str
    practices: tuple[str, ...]
    """Of all sittings in the bag, sorted."""

    @property
    def traits(self) -> tuple[str, ...]:
        """What is counted."""
        return self.age_group, self.sex, self.handedness, " and ".join(self.practices)


def joined(people: Iterable[Person]) -> list[Person]:
    """One for each research id, with all that was told of it: bags can be put together."""
    by_id: dict[str, list[Person]] = defaultdict(list)
    for person in people:
        by_id[person.research_id].append(person)
    return [_one(by_id[research_id]) for research_id in sorted(by_id)]


def _one(told: list[Person]) -> Person:
    age, sex, handedness = (
        " and ".join(sorted({getattr(p, name) for p in told} - {MISSING})) or MISSING
        for name in ("age_group", "sex", "handedness")
    )
    practices = tuple(sorted({practice for p in told for practice in p.practices}))
    return Person(told[0].research_id, age, sex, handedness, practices)


def small_groups(people: Iterable[Person], k: int) -> list[tuple[tuple[str, ...], int]]:
    """Sets of traits that fewer than `k` people share, with how many do.

    k-anonymity (Sweeney L. k-anonymity: a model for protecting privacy. Int J
    Uncertain Fuzziness Knowl-Based Syst 2002;10:557-570).
    """
    counts: dict[tuple[str, ...], int] = defaultdict(int)
    for person in people:
        counts[person.traits] += 1
    return sorted((traits, n) for traits, n in counts.items() if n < k)
