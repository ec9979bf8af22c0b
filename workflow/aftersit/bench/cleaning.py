"""The cleaning stage in figures; see each topic's module."""

from collections.abc import Iterator

from aftersit.bench.cleaning_cost import cost_tables
from aftersit.bench.cleaning_drowsy import drowsy_tables
from aftersit.bench.cleaning_electrodes import electrode_tables
from aftersit.bench.cleaning_eyes import eye_tables
from aftersit.bench.cleaning_harm import harm_tables
from aftersit.bench.cleaning_muscle import muscle_tables
from aftersit.bench.cleaning_spans import span_tables
from aftersit.bench.table import Table

TOPICS = (
    electrode_tables,
    span_tables,
    harm_tables,
    eye_tables,
    muscle_tables,
    drowsy_tables,
    cost_tables,
)


def tables(quick: bool) -> Iterator[Table]:
    """All tables of this bench, each as soon as it is made."""
    for topic in TOPICS:
        yield from topic(quick)
