"""What nights cost: one sitting by stage, nights of many, the empty night, long recordings."""

from collections.abc import Iterator

from aftersit.bench.night_empty import empty_table
from aftersit.bench.night_long import long_table
from aftersit.bench.night_many import many_table
from aftersit.bench.night_sitting import sitting_table
from aftersit.bench.table import Table
from aftersit.errors import AftersitError

PARTS = {
    "empty": empty_table,
    "sitting": sitting_table,
    "many": many_table,
    "long": long_table,
}


def tables(quick: bool, only: str = "", sizes: tuple[int, ...] = ()) -> Iterator[Table]:
    """All tables, or one part of them with sizes of one's own.

    Parameters
    ----------
    quick : bool
    only : str
        One of `PARTS`; empty for all.
    sizes : tuple of int
        Of that part: minutes of a sitting or recording, or numbers of sittings.
    """
    if only not in ("", *PARTS):
        raise AftersitError(f"`bench night` has the parts {', '.join(PARTS)}")
    for name, part in PARTS.items():
        if only in ("", name):
            yield from part(quick, sizes if only else ())
