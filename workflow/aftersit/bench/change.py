"""What a change costs and how sure a comparison is: rules run, rescoring, intervals."""

from collections.abc import Iterator

from aftersit.bench.change_coverage import coverage_table
from aftersit.bench.change_rescoring import rescoring_table
from aftersit.bench.change_rules import rules_tables
from aftersit.bench.table import Table
from aftersit.errors import AftersitError

PARTS = {
    "coverage": lambda quick: iter((coverage_table(quick),)),
    "rescoring": lambda quick: iter((rescoring_table(quick),)),
    "rules": rules_tables,
}


def tables(quick: bool, only: str = "") -> Iterator[Table]:
    """All tables of this bench, the quickest first, or one of `PARTS`.

    `rules` runs on the demo where it is finished, and on open recordings where there are some.
    """
    if only not in ("", *PARTS):
        raise AftersitError(f"`bench change` has the parts {', '.join(PARTS)}")
    for name, part in PARTS.items():
        if only in ("", name):
            yield from part(quick)
