"""Numbers, times and places as pages print them: always with their unit."""

import datetime as dt
from collections.abc import Sequence

from aftersit.clock import clock

MINUS = "\N{MINUS SIGN}"
DASH = "\N{EN DASH}"
NONE = "\N{EM DASH}"
SPACE = "\N{NO-BREAK SPACE}"

# Desikan-Killiany names (Desikan et al. 2006, NeuroImage 31:968) written apart.
REGION_WORDS = {
    "bankssts": "banks of the superior temporal sulcus",
    "caudalanteriorcingulate": "caudal anterior cingulate",
    "caudalmiddlefrontal": "caudal middle frontal",
    "frontalpole": "frontal pole",
    "inferiorparietal": "inferior parietal",
    "inferiortemporal": "inferior temporal",
    "isthmuscingulate": "isthmus cingulate",
    "lateraloccipital": "lateral occipital",
    "lateralorbitofrontal": "lateral orbitofrontal",
    "medialorbitofrontal": "medial orbitofrontal",
    "middletemporal": "middle temporal",
    "parsopercularis": "pars opercularis",
    "parsorbitalis": "pars orbitalis",
    "parstriangularis": "pars triangularis",
    "posteriorcingulate": "posterior cingulate",
    "rostralanteriorcingulate": "rostral anterior cingulate",
    "rostralmiddlefrontal": "rostral middle frontal",
    "superiorfrontal": "superior frontal",
    "superiorparietal": "superior parietal",
    "superiortemporal": "superior temporal",
    "temporalpole": "temporal pole",
    "transversetemporal": "transverse temporal",
}


def number(value: float | None, digits: int = 1, unit: str = "") -> str:
    """A number with a real minus sign and its unit; a dash when not known."""
    if value is None or value != value:
        return NONE
    text = f"{value:.{digits}f}"
    if float(text) == 0:
        text = text.removeprefix("-")
    text = text.replace("-", MINUS)
    return f"{text}{SPACE}{unit}" if unit else text


def significant(value: float | None, digits: int = 3) -> str:
    """A positive number of any size with this many significant digits."""
    if value is None or value != value:
        return NONE
    if value == 0 or 1e-3 <= abs(value) < 1e5:
        return f"{float(f'{value:.{digits - 1}e}'):g}".replace("-", MINUS)
    mantissa, exponent = f"{value:.{digits - 1}e}".split("e")
    raised = str(int(exponent)).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
    return f"{mantissa.replace('-', MINUS)}·10{raised}"


def db(value: float | None) -> str:
    """Decibels with sign and one decimal."""
    if value is None or value != value:
        return NONE
    sign = "+" if round(value, 1) > 0 else ""
    return f"{sign}{number(value, 1, 'dB')}"


def db_size(value: float) -> str:
    """Decibels without sign, where words say the direction."""
    return number(abs(value), 1, "dB")


def interval_db(low: float | None, high: float | None) -> str:
    """Both ends of an interval in decibels."""
    if low is None or high is None:
        return NONE
    return f"{db(low).removesuffix(SPACE + 'dB')} to {db(high)}"


def interval_percent(low: float | None, high: float | None, signed: bool = False) -> str:
    """Both ends of an interval of shares, in whole percent; a change carries signs."""
    if low is None or high is None:
        return NONE
    ends = [f"{x * 100:+.0f}" if signed else f"{x * 100:.0f}" for x in (low, high)]
    ends = [e.removeprefix("+").removeprefix("-") if float(e) == 0 else e for e in ends]
    return f"{ends[0]} to {ends[1]}{SPACE}%".replace("-", MINUS)


def probability(p: float | None) -> str:
    """A probability with two digits; small ones as a limit."""
    if p is None or p != p:
        return NONE
    return "under 0.001" if p < 0.001 else f"{p:.3f}" if p < 0.01 else f"{p:.2f}"


def percent(share: float | None) -> str:
    """A share as a whole percentage; never 0 or 100 % when it is not quite that."""
    if share is None or share != share:
        return NONE
    if 0 < share < 0.005:
        return f"under 1{SPACE}%"
    if 0.995 <= share < 1:
        return f"over 99{SPACE}%"
    return f"{share * 100:.0f}{SPACE}%"


def length(value_s: float | None) -> str:
    """A length of time: seconds below a minute, else minutes and seconds."""
    if value_s is None or value_s != value_s:
        return NONE
    if value_s < 10:
        return number(value_s, 1, "s")
    if value_s < 59.5:
        return number(value_s, 0, "s")
    minutes, seconds = divmod(round(value_s), 60)
    return f"{minutes}{SPACE}min" + (f" {seconds}{SPACE}s" if seconds else "")


def span(start_s: float, stop_s: float) -> str:
    """From when to when in the recording."""
    return f"{clock(start_s)}{DASH}{clock(stop_s)}"


def band(limits_hz: tuple[float, float]) -> str:
    """A band by its limits in Hz."""
    low, high = limits_hz
    return f"{low:g}{DASH}{high:g}{SPACE}Hz"


def count(value: int, one: str, many: str | None = None) -> str:
    """A number of things: `1 bout`, `3 bouts`, `no bouts`."""
    noun = one if value == 1 else (many or f"{one}s")
    return f"{value or 'no'} {noun}"


def join(words: Sequence[str], last: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def region(key: str) -> str:
    """`insula-right` as `right insula`; both sides as `insula, both sides`."""
    name, _, side = key.rpartition("-")
    words = REGION_WORDS.get(name, name)
    return f"{words}, both sides" if side == "both" else f"{side} {words}"


def place(key: str, kind: str) -> str:
    """The place of a measure in words."""
    if kind == "region":
        return region(key)
    names = key.split("+")
    return f"electrode{'s' if len(names) > 1 else ''} {join(names)}"


def unit(text: str) -> str:
    """A unit with its exponents raised and its micro sign."""
    return text.replace("^2", "\N{SUPERSCRIPT TWO}").replace("uV", "\N{MICRO SIGN}V")


def day(date: dt.date, language: str) -> str:
    """A date as the clinic's language writes it."""
    from babel.dates import format_date

    return format_date(date, "long", locale=language)


def sentence(text: str) -> str:
    """With a capital at its start and a full stop at its end."""
    return text[:1].upper() + text[1:].rstrip(".") + "."
