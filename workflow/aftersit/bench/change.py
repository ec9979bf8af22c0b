"""What a change costs and how sure a comparison is: rules run, rescoring, intervals."""

from collections.abc import Iterator

from aftersit.bench.change_coverage import coverage_table
from aftersit.bench.change_rescoring import rescoring_table
from aftersit.bench.change_rules import rules_tables
from aftersit.bench.table import Table


def tables(quick: bool) -> Iterator[Table]:
    """All tables of this bench, the quickest first."""
    yield coverage_table(quick)
    yield rescoring_table(quick)
    yield from rules_tables(quick)
