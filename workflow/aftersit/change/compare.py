"""Compare two versions over all sittings: a table of sittings, paired differences, a page."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from aftersit.bids.tables import tsv
from aftersit.change import figures_of as fig
from aftersit.change.paired import Difference, difference
from aftersit.change.sides import Pair, Pairs, Side, read_pairs
from aftersit.change.why import Why, reasons
from aftersit.clinic import Clinic
from aftersit.files import write_atomically
from aftersit.night.layout import COMPARED
from aftersit.night.ledger import Ledger
from aftersit.protocol import Protocol, load_protocol
from aftersit.record import Record

_DIGITS = 6


@dataclass(frozen=True)
class Measure:
    """One figure that is compared: its name with the unit, and how a record tells it."""

    name: str
    of: Callable[[Record], float | None]


MEASURES = (
    Measure("in_target_percent", fig.in_target_percent),
    Measure("bouts", fig.bouts),
    Measure("longest_bout_s", fig.longest_bout_s),
)


@dataclass(frozen=True)
class Row:
    """One sitting under both sides."""

    pair: Pair
    why: tuple[Why, ...]

    @property
    def client(self) -> str:
        return self.pair.sitting.client

    def change(self, measure: Measure) -> float | None:
        """B less A; None where one of them is not known."""
        one, two = measure.of(self.pair.a), measure.of(self.pair.b)
        return None if one is None or two is None else two - one

    @cached_property
    def distances(self) -> dict[str, float]:
        """Condition -> how much closer to (or further past) its threshold it is under B, in dB."""
        one, two = fig.distances_db(self.pair.a), fig.distances_db(self.pair.b)
        return {name: two[name] - one[name] for name in one if name in two}


@dataclass(frozen=True)
class Comparison:
    """All rows, and what they come to."""

    a: Side
    b: Side
    pairs: Pairs
    rows: tuple[Row, ...]

    @property
    def clients(self) -> list[str]:
        return sorted({row.client for row in self.rows})

    def of(self, client: str) -> list[Row]:
        return [row for row in self.rows if row.client == client]

    def difference(self, measure: Measure) -> Difference:
        """Over clients."""
        return difference([r.change(measure) for r in self.rows], [r.client for r in self.rows])

    def distances(self) -> dict[str, Difference]:
        """The same for each condition's distance to its threshold, in dB."""
        names = list(dict.fromkeys(name for row in self.rows for name in row.distances))
        clients = [row.client for row in self.rows]
        return {n: difference([r.distances.get(n) for r in self.rows], clients) for n in names}

    def counted(self, what: Callable[[Record], str | None]) -> Counter:
        """How often A says one thing and B another."""
        return Counter((what(r.pair.a), what(r.pair.b)) for r in self.rows)

    def most_changed(self, count: int) -> list[Row]:
        """Sittings by how far the time in target moved; a change of status goes first."""

        def weight(row: Row) -> tuple:
            moved = row.change(MEASURES[0])
            other = row.pair.a.status != row.pair.b.status
            return (not other, -abs(moved or 0.0), row.pair.sitting)

        changed = [r for r in self.rows if r.change(MEASURES[0]) or not _same_status(r)]
        return sorted(changed, key=weight)[:count]


def _same_status(row: Row) -> bool:
    return row.pair.a.status == row.pair.b.status


def compare(clinic: Clinic, a: str, b: str, out: Path | None) -> list[str]:
    """Compare, and write `compare.html` and `compare.tsv`.

    Parameters
    ----------
    a, b : str
        As `sides.Side.parse` takes them.
    out : Path or None
        Folder for both; by default `reports/versions-compared/<A>-and-<B>/`.

    Returns
    -------
    list of str
        What to tell the user.

    Raises
    ------
    AftersitError
        Something that is nothing to compare or not there, or no sitting has both.
    """
    from aftersit.pages.compare import first_lines, write_page

    settings = clinic.read_settings()
    sides = Side.parse(a), Side.parse(b)
    for side in sides:
        side.check(clinic)
    found = comparison(clinic, *sides)
    folder = out or clinic.root / COMPARED / f"{_named(a)}-and-{_named(b)}"
    write_atomically(folder / "compare.tsv", table(found))
    page = write_page(found, settings, folder / "compare.html")
    return [*first_lines(found), f"page: {page}", f"table: {folder / 'compare.tsv'}"]


def _named(side: str) -> str:
    return side.replace("/", "-").replace(":", "-")


def comparison(clinic: Clinic, a: Side, b: Side) -> Comparison:
    """Read both sides and say why they differ, sitting by sitting."""
    pairs = read_pairs(clinic, Ledger(clinic).entries(), a, b)
    known: dict[tuple[str, int], Protocol] = {}

    def timed(record: Record) -> tuple:
        key = (record.protocol.name, record.protocol.version)
        if key not in known:
            known[key] = load_protocol(clinic.kept_protocols, *key)
        return known[key].timing, known[key].artefact_gate

    rows = [Row(p, reasons(p.a, p.b, timed(p.a) != timed(p.b))) for p in pairs.pairs]
    return Comparison(a, b, pairs, tuple(rows))


def table(found: Comparison) -> str:
    """One line for each sitting and condition; figures of the sitting repeat on its lines."""
    columns = ["client", "sitting", "protocol", "a_status", "b_status"]
    for measure in MEASURES:
        columns += [f"a_{measure.name}", f"b_{measure.name}", f"change_{measure.name}"]
    columns += ["a_deciding", "b_deciding", "a_muscle", "b_muscle", "why"]
    columns += ["condition", "a_distance_db", "b_distance_db", "change_distance_db"]
    columns += ["a_met_percent", "b_met_percent"]
    return tsv(columns, [line for row in found.rows for line in _lines(row)])


def _lines(row: Row) -> list[list]:
    a, b = row.pair.a, row.pair.b
    names = [r.protocol.name for r in (a, b)]
    of_sitting = [row.client, row.pair.sitting.label, "/".join(dict.fromkeys(names))]
    of_sitting += [a.status, b.status]
    for measure in MEASURES:
        of_sitting += [_short(measure.of(a)), _short(measure.of(b)), _short(row.change(measure))]
    of_sitting += [fig.deciding(a), fig.deciding(b), fig.muscle(a), fig.muscle(b)]
    of_sitting.append("; ".join(map(_coded, row.why)) or None)
    conditions = list(dict.fromkeys(c.name for r in (a, b) for c in r.conditions))
    return [[*of_sitting, name, *_of_condition(row, name)] for name in conditions]


def _of_condition(row: Row, name: str) -> Sequence:
    near = [fig.distances_db(r).get(name) for r in (row.pair.a, row.pair.b)]
    met = [fig.met_percent(r).get(name) for r in (row.pair.a, row.pair.b)]
    return [*map(_short, near), _short(row.distances.get(name)), *map(_short, met)]


def _coded(why: Why) -> str:
    amount = "" if why.amount is None else f"{why.amount:+.2f}"
    return " ".join(part for part in (why.code, why.what, amount) if part)


def _short(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.{_DIGITS}g}")
