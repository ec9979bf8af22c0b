"""Effects known from the literature, person by person, with the group's interval."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Effect:
    """One effect over people.

    Attributes
    ----------
    name : str
    expected : str
        Its direction, and where it is known from.
    people : tuple of (str, str)
        Person and value.
    group : str
        The group's mean with its interval, or why there is none.
    """

    name: str
    expected: str
    people: tuple[tuple[str, str], ...]
    group: str
