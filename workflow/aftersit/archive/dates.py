"""Dates of a sitting as a partner may see them: a day number, or a shifted date."""

import datetime as dt

from aftersit.archive.ids import EARLIEST, LATEST


def day_number(date: dt.date, first: dt.date) -> int:
    """Days since the client's sitting that came first; that sitting's day is day 1.

    Elapsed days are no dates. A sitting that came later than the first but was held before
    it has a number below 1.
    """
    return (date - first).days + 1


def shifted(start: dt.datetime, shift_days: int) -> dt.datetime | None:
    """The start, moved by whole days and without its minutes; None outside 1902-1925.

    All of a client's dates move by the same number of days, as BIDS asks; a start to the
    minute would find its line in a diary.
    """
    moved = start.replace(minute=0, second=0, microsecond=0) + dt.timedelta(days=shift_days)
    return moved if EARLIEST <= moved.date() <= LATEST else None
