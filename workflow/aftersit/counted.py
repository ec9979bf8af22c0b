"""Numbers of things in words."""


def counted(number: int, one: str, many: str | None = None) -> str:
    """`1 sitting`, `3 sittings`.

    Parameters
    ----------
    number : int
    one, many : str
        What is counted, one and several of it; several end in an s unless given.

    Examples
    --------
    >>> counted(1, "sitting"), counted(3, "person", "people")
    ('1 sitting', '3 people')
    """
    return f"{number} {one if number == 1 else many or f'{one}s'}"
