"""Deliberate faults in bags, research ids, dates and groups of people."""

import datetime as dt
from importlib.util import find_spec

from aftersit.evidence.fault_parts import returning
from aftersit.evidence.faults import Fault

_ALL = (
    Fault(
        "old-declaration",
        ("archive",),
        "a bag declares an older version",
        (
            (
                "aftersit.archive.bag._DECLARATION",
                returning("BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n"),
            ),
        ),
    ),
    Fault(
        "tag-files-unlisted",
        ("archive",),
        "a bag's own files are not listed",
        (("aftersit.archive.bag._write_tag_manifest", returning(None)),),
    ),
    Fault(
        "no-oxum",
        ("archive",),
        "a bag does not tell its bytes",
        (("aftersit.archive.bag.make_bag", lambda f: lambda *a: _without_oxum(f, *a)),),
    ),
    Fault(
        "everything-valid",
        ("archive",),
        "a bag is called valid without a look at its files",
        (("bagit.Bag.is_valid", returning(True)),),
    ),
    Fault(
        "dates-kept",
        ("archive",),
        "dates are moved by months, not by days",
        (
            (
                "aftersit.archive.dates.shifted",
                lambda f: (
                    lambda start, days: (
                        (moved := f(start, days)) and moved - dt.timedelta(days=moved.day - 1)
                    )
                ),
            ),
        ),
    ),
    Fault(
        "ages-apart",
        ("archive",),
        "ages over 89 are told",
        (("aftersit.archive.groups.age_group", lambda f: lambda age: age),),
    ),
    Fault(
        "any-group",
        ("archive",),
        "no group is too small",
        (("aftersit.archive.groups.small_groups", returning([])),),
    ),
)

BAGS = _ALL if find_spec("aftersit.archive") else ()


def _without_oxum(make, folder, info):
    made = make(folder, info)
    path = folder / "bag-info.txt"
    kept = [line for line in path.read_text().splitlines() if "Oxum" not in line]
    path.write_text("\n".join(kept) + "\n")
    return made
