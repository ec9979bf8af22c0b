"""Numbers that tell, as those of phones, insurances and amplifiers do, however grouped."""

import re
from collections.abc import Iterator

from aftersit.archive.datetexts import dates_of

TELLING = 7
"""So many digits at the end of a number are compared: shorter ones come about by chance, and what
stands before them may be left out, as the code of a country is."""
_GROUPED = re.compile(r"(?<!\d)\d(?:[ ./()-]{0,3}\d)+")
_DECIMAL = re.compile(r"\d+\.\d+(?:e[-+]?\d+)?")
_CHECKSUM = re.compile(r"(?<![^\W_])[0-9a-f]{32,}(?![^\W_])")


def ends_of_numbers(folded: str) -> Iterator[str]:
    """The last digits of each number that is long enough, without signs between them.

    Numbers with a decimal point, dates and checksums are passed over.

    Examples
    --------
    >>> list(ends_of_numbers("call +43 664 12 34 567, room 12, 0.1234567"))
    ['1234567']
    """
    for found in _GROUPED.findall(_CHECKSUM.sub("x", folded)):
        digits = re.sub(r"\D", "", found)
        if len(digits) >= TELLING and not _DECIMAL.fullmatch(found) and not _is_date(found):
            yield digits[-TELLING:]


def _is_date(text: str) -> bool:
    """Dates are looked for in other ways."""
    return len(text) <= len("2026-03-14") and any(dates_of(text))
