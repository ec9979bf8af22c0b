"""Libraries without what they import for parts of them that nothing here uses."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType


@contextmanager
def in_place_of(name: str, module: ModuleType | None) -> Iterator[None]:
    """Give a module's name another meaning while a library is imported.

    Where the module was imported before, there is nothing to save and nothing is done.

    Parameters
    ----------
    name : str
        The module, in full.
    module : ModuleType or None
        What stands in for it; None makes it look as if it were not installed.
    """
    if name in sys.modules:
        yield
        return
    sys.modules[name] = module
    try:
        yield
    finally:
        del sys.modules[name]


def stand_in(name: str, **holds: object) -> ModuleType:
    """A module that holds what is given and nothing else."""
    module = ModuleType(name)
    vars(module).update(holds)
    return module
