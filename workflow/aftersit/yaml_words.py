"""What is wrong with a YAML file, in words of people who don't know the parser's."""

import re

import yaml

_QUOTES = "put it in quotes"
_WORDS = (
    (r"character '\\t' that cannot start", "a tab stands here; use spaces, not tabs"),
    (r"character '(.)' that cannot start", f"a text can't begin with ?; {_QUOTES}"),
    (
        r"mapping values are not allowed",
        "a ': ' stands where none may; put a text that holds one in quotes, and begin the keys "
        "of one group in the same column",
    ),
    (r"sequence entries are not allowed", "write a list as [one, two], or each item on a line"),
    (
        r"(?:end|start)>'?, but found '(?:<block|\?|-)",
        "this does not begin in the same column as the lines it belongs to",
    ),
    (r"expected alphabetic or numeric", f"a text can't begin with * or &; {_QUOTES}"),
    (r"escape", "in double quotes \\ begins a sign; use single quotes"),
    (r"another document", "`---` may stand at the beginning only"),
)
"""Words for what the parser says of the place where it stopped; `?` is what it found."""
_BEGUN = (
    (r"expected ',' or '([]}])', but got '<stream end>'", "'?' is missing: what begins here "),
    (r"expected ',' or '([]}])'", "',' or '?' is missing in the list or group that begins here"),
    (r"unexpected end of stream", "a quote is missing: what begins here "),
    (r"expected ':'", "a `key: value` is needed, with ':' and a blank after the key"),
)
"""The same where the mistake is where something began."""
_UNENDED = "never ends"
_OTHER = "not readable; put texts with : # , [ ] { } & * ! | > ' or \" in them in quotes"


class PlainError(yaml.MarkedYAMLError):
    """More than plain data: an error whose words are our own."""


def yaml_words(error: Exception) -> str:
    """One line: where, and what to do.

    Parameters
    ----------
    error : Exception
        What a YAML loader raised.
    """
    if isinstance(error, RecursionError):
        return "nested too deeply"
    if isinstance(error, yaml.reader.ReaderError):
        return f"the sign #x{error.character:04x} can't stand in a text; delete it"
    mark, problem = getattr(error, "problem_mark", None), getattr(error, "problem", None) or ""
    if isinstance(error, PlainError):
        return _at(mark, problem)
    begun = _first(_BEGUN, problem)
    if begun:
        return _at(error.context_mark or mark, begun + _UNENDED * begun.endswith(" "))
    return _at(mark, _first(_WORDS, problem) or _OTHER)


def _first(table: tuple, problem: str) -> str | None:
    """The words of the first pattern that fits."""
    for pattern, words in table:
        if match := re.search(pattern, problem):
            return words.replace("?", match[1]) if match.groups() else words
    return None


def _at(mark: yaml.Mark | None, words: str) -> str:
    return f"line {mark.line + 1}: {words}" if mark else words
