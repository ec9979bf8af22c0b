"""How right the replay and what it tells are: truth, changes, chance, advice, cost."""

from collections.abc import Iterator

from aftersit.bench.replay_advice import advice_tables
from aftersit.bench.replay_breaks import breaks_tables
from aftersit.bench.replay_chance import chance_tables
from aftersit.bench.replay_cost import cost_tables
from aftersit.bench.replay_off import off_tables
from aftersit.bench.replay_truth import truth_tables
from aftersit.bench.table import Table


def tables(quick: bool) -> Iterator[Table]:
    """All tables of this bench, the quickest first."""
    for part in (
        chance_tables,
        breaks_tables,
        off_tables,
        cost_tables,
        advice_tables,
        truth_tables,
    ):
        yield from part(quick)
