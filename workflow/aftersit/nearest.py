"""What to say of a name that there is none of."""

from collections.abc import Iterable
from difflib import get_close_matches

_SHOWN = 12


def there_is_no(what: str, name: str, known: Iterable[str]) -> str:
    """That there is none of a name, the nearest one, and which there are.

    Examples
    --------
    >>> there_is_no("practice", "compasion", ["compassion", "other"])
    "there is no practice 'compasion'; did you mean 'compassion'? There are: compassion, other"
    """
    names = sorted(set(known))
    near = get_close_matches(name, names, n=1)
    hint = f"did you mean '{near[0]}'? There are" if near else "there are"
    more = f" and {len(names) - _SHOWN} more" if len(names) > _SHOWN else ""
    listed = ", ".join(names[:_SHOWN]) + more if names else "none"
    return f"there is no {what} '{name}'; {hint}: {listed}"
