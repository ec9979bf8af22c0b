"""The command that makes a bag for a partner, whole or not at all."""

import datetime as dt
import re
import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from aftersit.archive.bag import make_bag
from aftersit.archive.choose import REASONS, Chosen, LeftOut, choose, parse_where
from aftersit.archive.collect import clinic_names, secrets_of
from aftersit.archive.consent import check_codes, read_roster
from aftersit.archive.dates import shifted
from aftersit.archive.exchange import put_in_place
from aftersit.archive.ids import give_pseudonyms, partner_table
from aftersit.archive.partner import read_partner
from aftersit.archive.payload import Order, write_payload
from aftersit.archive.people import first_days, start_of
from aftersit.archive.places import left_out_path, workplace
from aftersit.archive.register import Exports, Made, withdrawn_lines
from aftersit.archive.scan import Finding, scan
from aftersit.archive.scrub import Scrub
from aftersit.archive.textsearch import IN_A_NAME
from aftersit.clinic import Clinic
from aftersit.counted import counted
from aftersit.errors import AftersitError
from aftersit.files import write_atomically
from aftersit.night.ledger import Ledger
from aftersit.night.session import at_work
from aftersit.patterns import NAME_PATTERN

Say = Callable[[str], None]
_SHOWN = 8
"""Findings of the scan that are told one by one."""


@dataclass(frozen=True)
class Wanted:
    """What the user asked for."""

    name: str
    partner: str
    where: tuple[str, ...] = ()
    update: bool = False
    small_groups_allowed_by: str | None = None


def export(
    clinic: Clinic, wanted: Wanted, today: dt.date, say: Say, scrub: Scrub | None = None
) -> Path:
    """Make the bag `exports/<name>/`.

    Parameters
    ----------
    clinic : Clinic
    wanted : Wanted
    today : date
        Decides about consent.
    say : callable
        Gets one line at a time, with client codes: it is for the clinic.
    scrub : Scrub, optional
        Everything, but for tests.

    Returns
    -------
    Path
        The bag.

    Raises
    ------
    AftersitError
        Nothing can be handed over, groups are too small, or the scan found something that
        must not leave; nothing of the export is left then.
    AlreadyRunningError
        A night is running.
    """
    clinic.read_settings()
    _check_names(clinic, wanted)
    with at_work(clinic):
        _check_roster(clinic, say)
        order, left_out = _order(clinic, wanted, today)
        _tell(left_out, order.chosen, say)
        _tell_names(order, say)
        _check_groups(order, wanted, say)
        place = workplace(clinic) / wanted.name
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir(parents=True)
        try:
            made = _make(order, wanted, today, place, scrub or Scrub())
            _check_scan(clinic, order, place, say)
            _note_left_out(clinic, wanted.name, left_out)
            Exports(clinic).add(made)
            put_in_place(place, clinic.root / "exports" / wanted.name)
        finally:
            shutil.rmtree(place, ignore_errors=True)
        for line in withdrawn_lines(clinic, today):
            say(line)
    return clinic.root / "exports" / wanted.name


def _check_names(clinic: Clinic, wanted: Wanted) -> None:
    if not re.fullmatch(NAME_PATTERN, wanted.name):
        raise AftersitError(
            f"'{wanted.name}' can't name an export: small letters, digits, hyphens, a letter first"
        )
    there = (clinic.root / "exports" / wanted.name).exists()
    if there and not wanted.update:
        raise AftersitError(
            f"exports/{wanted.name} is there already; add --update to bring it up to date, "
            "or choose another name"
        )
    if wanted.update and not there:
        raise AftersitError(f"exports/{wanted.name} is not there; leave --update out")
    others = {m.partner for m in Exports(clinic).made() if m.name == wanted.name}
    if wanted.update and others - {wanted.partner}:
        raise AftersitError(
            f"exports/{wanted.name} was made for {', '.join(sorted(others))}, "
            f"not for {wanted.partner}"
        )


def _check_roster(clinic: Clinic, say: Say) -> None:
    strange = check_codes(read_roster(clinic), {e.client for e in Ledger(clinic).entries()})
    if strange:
        rows = counted(strange, "row")
        say(f"{rows} of roster.csv without a client that has sittings: see that codes are right")


def _order(clinic: Clinic, wanted: Wanted, today: dt.date) -> tuple[Order, list[LeftOut]]:
    partner = read_partner(clinic, wanted.partner)
    _check_table(clinic, wanted.partner)
    chosen, left_out = choose(clinic, read_roster(clinic), today, parse_where(wanted.where))
    firsts = first_days(clinic)
    clients = {one.entry.client for one in chosen}
    pseudonyms = give_pseudonyms(clinic, wanted.partner, {c: firsts[c] for c in clients})
    published = partner.published.isoformat() if partner.published else str(today.year)
    known = Exports(clinic).told(wanted.partner)
    order = Order(clinic, partner, chosen, pseudonyms, published, known)
    if partner.dates == "shifted":
        kept = [one for one in chosen if _date_fits(order, one)]
        left_out += [LeftOut(str(o.entry.sitting), "date-range") for o in chosen if o not in kept]
        order = replace(order, chosen=kept)
    if not order.chosen:
        raise AftersitError(_nothing(left_out))
    return order, left_out


def _check_table(clinic: Clinic, partner: str) -> None:
    """AftersitError when ids that a partner knows are lost: new ones would be other people."""
    had = any(made.partner == partner for made in Exports(clinic).made())
    if had and not partner_table(clinic, partner).is_file():
        raise AftersitError(
            f"partners/{partner}.csv is missing, but this partner has exports with the ids in it; "
            "put it back from a backup"
        )


def _date_fits(order: Order, one: Chosen) -> bool:
    shift = order.pseudonyms[one.entry.client].shift_days
    return shifted(start_of(order.clinic, one), shift) is not None


def _nothing(left_out: list[LeftOut]) -> str:
    counts = Counter(one.reason for one in left_out)
    told = "; ".join(f"{n}: {REASONS[reason]}" for reason, n in sorted(counts.items()))
    return f"nothing can be handed over. {told or 'no sitting is as --where asks'}"


def _tell(left_out: list[LeftOut], chosen: list[Chosen], say: Say) -> None:
    people = {one.entry.client for one in chosen}
    told = f"{counted(len(chosen), 'sitting')} of {counted(len(people), 'person', 'people')}"
    say(f"{told} can be handed over")
    for one in left_out:
        say(f"  not {one.sitting}: {REASONS[one.reason]}")


def _tell_names(order: Order, say: Say) -> None:
    """Somebody's name in one of them can't be told from a word."""
    used = {name for one in order.chosen for name in one.entry.protocols}
    names = ", ".join(sorted(set(clinic_names(order.clinic, used))))
    say(f"names of yours that travel as they are; see that none tells who somebody is: {names}")


def _check_groups(order: Order, wanted: Wanted, say: Say) -> None:
    small = order.small_groups(order.partner.k)
    if not small:
        return
    lines = [f"  {n} of {', '.join(traits)}" for traits, n in small]
    head = (
        f"fewer than {order.partner.k} people are alike (age group, sex, handedness, practices), "
        "in this bag or joined with what the partner has:"
    )
    if not wanted.small_groups_allowed_by:
        raise AftersitError(
            "\n".join([head, *lines])
            + "\nWait for more people, hand over less (`without` in the partner's settings, "
            "--where), or let a person answer for it: --small-groups-allowed-by CODE"
        )
    say(f"{head} allowed by {wanted.small_groups_allowed_by}")
    for line in lines:
        say(line)


def _make(order: Order, wanted: Wanted, today: dt.date, place: Path, scrub: Scrub) -> Made:
    write_payload(order, place, scrub)
    day = order.partner.published
    info = {
        **({"Bagging-Date": day.isoformat()} if day else {}),
        "Bag-Software-Agent": "Aftersit, with bagit",
        "External-Description": order.partner.title,
    }
    manifest = make_bag(place, info)
    sittings: dict[str, tuple[str, ...]] = {}
    for one in order.chosen:
        research_id = order.pseudonyms[one.entry.client].research_id
        sittings[research_id] = (*sittings.get(research_id, ()), one.entry.sitting.label)
    return Made(
        name=wanted.name,
        partner=wanted.partner,
        day=today,
        dates=order.partner.dates,
        people=dict(sorted(sittings.items())),
        told=tuple(order.people),
        manifest_sha256=manifest,
        small_groups_allowed_by=wanted.small_groups_allowed_by,
    )


def _check_scan(clinic: Clinic, order: Order, place: Path, say: Say) -> None:
    own = {p.research_id for p in order.pseudonyms.values()}
    findings = scan(place, secrets_of(clinic, order.partner, own))
    for finding in findings[:_SHOWN]:
        say(f"  found {finding.kind} in {finding.where}")
    if findings:
        raise AftersitError(_refusal(findings))


def _refusal(findings: list[Finding]) -> str:
    more = f" ({len(findings)} findings)" if len(findings) > _SHOWN else ""
    told = (
        f"the scan of the finished bag found what must not leave{more}; "
        "the export was removed. Look at the files above in the clinic's bids/ and derivatives/"
    )
    if any("a text of " in finding.kind for finding in findings):
        told += (
            ". No sentence of a sheet travels: if none was written into these files by hand, the "
            "words of the sheet named above stand there by accident"
        )
    if any(IN_A_NAME in finding.kind for finding in findings):
        told += (
            f". A client's code stands {IN_A_NAME}: such names travel as they are. "
            "Give it another name, or hand over other sittings with --where"
        )
    return told


def _note_left_out(clinic: Clinic, name: str, left_out: list[LeftOut]) -> None:
    rows = [f"{one.sitting.partition('/')[0]},{one.sitting},{one.reason}" for one in left_out]
    text = "\n".join(["client,sitting,reason", *rows]) + "\n"
    write_atomically(left_out_path(clinic, name), text)
