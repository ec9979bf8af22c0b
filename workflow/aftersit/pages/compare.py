"""The comparison of two versions as a page; a clinic's lead decides from its first screen."""

import os
from collections.abc import Callable
from pathlib import Path
from urllib.parse import quote

from aftersit.algorithms import current, split_label
from aftersit.change.compare import MEASURES, Comparison, Row
from aftersit.change.differences import differences
from aftersit.change.figures_of import SEVERAL, deciding, distances_db, muscle
from aftersit.change.frozen import unions_said
from aftersit.change.sides import Side
from aftersit.clinic import Clinic, ClinicSettings
from aftersit.files import write_atomically
from aftersit.night.kept_settings import clinic_settings, regions_file
from aftersit.pages import compare_words as say
from aftersit.pages.compare_figure import drawing
from aftersit.pages.format import count, number
from aftersit.pages.template import render
from aftersit.pages.words import clinic_words
from aftersit.protocol import load_protocol
from aftersit.record import Record

MOST_SITTINGS = 15


def first_lines(found: Comparison) -> list[str]:
    """What the terminal says."""
    both = f"{len(found.rows)} sittings under both {found.a.text} (A) and {found.b.text} (B)"
    return [both, say.headline(found), *say.key_facts(found)]


def write_page(found: Comparison, settings: ClinicSettings, path: Path) -> Path:
    """Write the page; returns where it is."""
    clinic = _clinic_of(found)
    title = f"What {found.b.text} changes"
    html = render(
        "compare.html",
        "screen",
        language="en",
        title=title,
        footer=f"{title}, against {found.a.text}",
        clinic=settings.name,
        found=found,
        headline=say.headline(found),
        facts=say.key_facts(found),
        rules=what_differs(clinic, found),
        commands=_commands(found),
        picture=drawing(found),
        figures=_figure_rows(found),
        sittings=count(len(found.rows), "sitting"),
        people=count(len(found.clients), "client"),
        deciding=say.counted_rows(found.counted(deciding), _deciding_words),
        muscle=say.counted_rows(found.counted(muscle), say.MUSCLE.get),
        most=[(r, _link(clinic, r, path), say.changed_row(r)) for r in _most(found)],
        clients=[_client_row(found, client) for client in found.clients],
        cautions=clinic_words(clinic, settings.language).cautions
        if settings.language == "en"
        else (),
    )
    write_atomically(path, html)
    return path


def _clinic_of(found: Comparison) -> Clinic:
    """The folder that the records lie in: four levels over a sitting's results."""
    return Clinic(found.rows[0].pair.folders[0].parents[3])


def _most(found: Comparison) -> list[Row]:
    return found.most_changed(MOST_SITTINGS)


def what_differs(clinic: Clinic, found: Comparison) -> list[str]:
    """Lines that say how the two versions differ: the protocol's, and the settings'."""
    one = found.rows[0].pair
    protocols = [
        load_protocol(clinic.kept_protocols, r.protocol.name, r.protocol.version)
        for r in (one.a, one.b)
    ]
    lines = []
    if found.a.protocol or found.b.protocol:
        said = [p.model_dump(mode="json", exclude={"version"}) for p in protocols]
        lines += differences(*said)
    if one.a.settings != one.b.settings:
        lines += _settings_differ(clinic, one.a.settings, one.b.settings)
    return [line.replace(" -> ", " \N{RIGHTWARDS ARROW} ") for line in lines]


def _settings_differ(clinic: Clinic, *labels: str) -> list[str]:
    """The settings' keys, the unions of regions, and the algorithms."""
    lines = differences(*(clinic_settings(clinic, s).model_dump(mode="json") for s in labels))
    lines += differences(*(unions_said(regions_file(clinic, s)) for s in labels))
    one, two = (split_label(label)[1] for label in labels)
    return [*lines, f"algorithms: {one} -> {two}"] if one != two else lines


def _commands(found: Comparison) -> list[tuple[str, str | None, str | None]]:
    """How each side is put in force, or else why it can't be."""
    told = []
    for name, side in (("A", found.a), ("B", found.b)):
        why_not = _why_not(found, side)
        told.append((name, None if why_not else _command(side), why_not))
    return told


def _why_not(found: Comparison, side: Side) -> str | None:
    if side.label and side.algorithms != current():
        return say.other_algorithms(side.algorithms, current())
    if side.protocol and not any(side.protocol in r.pair.entry.protocols for r in found.rows):
        return say.not_practised(side.protocol)
    return None


def _command(side: Side) -> str:
    """What is computed under named settings is computed with the program's own algorithms."""
    parts = ["scripts/aftersit replay"]
    if side.protocol:
        parts.append(f"--protocol {side.protocol} --version {side.version}")
    if side.label:
        parts.append(f"--settings {split_label(side.label)[0]}")
    return " ".join([*parts, "--clinic FOLDER"])


def _figure_rows(found: Comparison) -> list[list[str]]:
    rows = []
    for measure in MEASURES:
        change = found.difference(measure)
        a, b = (_mean(found, measure.of, side) for side in "ab")
        unit = say.UNITS[measure.name]
        rows.append(
            [say.TITLES[measure.name], a, b, say.with_interval(change, unit), *_ways(change)]
        )
    for name, change in found.distances().items():
        title = f"{name}: distance to its threshold, dB"
        a, b = (_mean(found, lambda r, n=name: distances_db(r).get(n), side) for side in "ab")
        rows.append([title, a, b, say.with_interval(change, "dB"), *_ways(change)])
    return rows


def _ways(change) -> list[str]:
    return [str(change.up), str(change.down), str(change.same)]


def _mean(found: Comparison, of: Callable[[Record], float | None], side: str) -> str:
    """Mean over clients of the clients' means, of sittings that both sides know."""
    means = []
    for client in found.clients:
        pairs = [r.pair for r in found.of(client) if None not in (of(r.pair.a), of(r.pair.b))]
        if pairs:
            means.append(sum(of(getattr(p, side)) for p in pairs) / len(pairs))
    return number(sum(means) / len(means), 1) if means else number(None)


def _deciding_words(name: str | None) -> str:
    if name is None:
        return "nothing, or not scored"
    return "several conditions at once" if name == SEVERAL else name


def _client_row(found: Comparison, client: str) -> list[str]:
    values = [v for r in found.of(client) if (v := r.change(MEASURES[0])) is not None]
    if not values:
        return [client, "0", "not known", ""]
    mean = sum(values) / len(values)
    spread = f"{say.signed(min(values))} to {say.signed(max(values))}" if len(values) > 1 else ""
    return [client, str(len(values)), say.signed(mean), spread]


def _link(clinic: Clinic, row: Row, page: Path) -> str:
    report = clinic.report(row.pair.sitting) / "clinician.html"
    return quote(os.path.relpath(report, page.parent).replace(os.sep, "/"))
