"""Tables that people keep by hand, as CSV: read with a word on what is wrong.

`read_rows` is strict, for tables whose content counts. `loose_text` and `cells` read what
only has to be searched, in whatever way a spreadsheet saved it.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from pathlib import Path

from aftersit.errors import AftersitError

_SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs"}


def read_rows(path: Path, where: str, columns: Sequence[str] = ()) -> list[dict]:
    """Rows by the names in the first line.

    Parameters
    ----------
    path : Path
        Comma-separated (RFC 4180), in UTF-8.
    where : str
        How errors name the file.
    columns : sequence of str
        What must be there; further columns may be.

    Raises
    ------
    AftersitError
        It is not UTF-8, a column is missing, or its columns are parted by something else.
    """
    reader = csv.DictReader(_strict_text(path, where).splitlines())
    try:
        rows, names = list(reader), [(name or "").strip() for name in reader.fieldnames or ()]
    except csv.Error as error:
        raise AftersitError(f"{where} can't be read as a table in CSV ({error})") from None
    missing = [column for column in columns if column not in names]
    if names and missing:
        raise AftersitError(_missing(where, missing, ",".join(reader.fieldnames or ())))
    return [{(k.strip() if k else k): v for k, v in row.items()} for row in rows]


def _strict_text(path: Path, where: str) -> str:
    data = path.read_bytes()
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise AftersitError(
            f"{where}, line {line}: this is not UTF-8 text; save the table as CSV UTF-8"
        ) from None


def _missing(where: str, missing: list[str], head: str) -> str:
    found = separator(head)
    if found != ",":
        return (
            f"{where}: its columns are parted by {_SEPARATORS[found]}; "
            "save it with commas between them"
        )
    # The first line is not repeated: without a head it is somebody's row.
    return f"{where} has no column {', '.join(missing)}; its first line must name the columns"


def separator(head: str) -> str:
    """What parts the columns, by the first line: the most frequent of comma, semicolon, tab."""
    return max(_SEPARATORS, key=head.count)


def loose_text(path: Path) -> str:
    """Text of a table, none of whose bytes are lost: `loose_bytes` gives them back."""
    return path.read_bytes().decode("utf-8", "surrogateescape")


def loose_bytes(text: str) -> bytes:
    """The bytes that `loose_text` read."""
    return text.encode("utf-8", "surrogateescape")


def cells(lines: Sequence[str]) -> Iterator[list[str]]:
    """Each line's cells, without blanks around them."""
    parted_by = separator(lines[0]) if lines else ","
    for line in lines:
        rows = csv.reader(io.StringIO(line, newline=""), delimiter=parted_by)
        yield [cell.strip().strip("\ufeff") for row in rows for cell in row]
