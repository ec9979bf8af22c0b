"""Both parsers of files that people write say the same."""

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from aftersit import plain_yaml
from aftersit.errors import InvalidFileError

REPOSITORY = Path(__file__).parents[1]
SHIPPED = [*(REPOSITORY / "config").rglob("*.yaml"), *(REPOSITORY / "shared").glob("*.yaml")]
SHIPPED += [*(REPOSITORY / "templates").rglob("*.yaml")]
PARTS = ["a", "b", "3", "07", "2.5", "no", "true", "12:30", "null", "é", "😀", "\x85", "\u2028"]
PARTS += [" ", "  ", "\n", "\n  ", "- ", ": ", ":", ", ", "[", "]", "{", "}", "'", '"', "\\", "#"]
PARTS += [" #", "| ", "|\n  ", ">\n ", "&a ", "*a", "!!str ", "?", "%", "---\n", "<<: ", "\r\n"]


def test_the_fast_parser_is_there():
    """Wheels of PyYAML carry libyaml; without it the other parser does all."""
    assert plain_yaml._FastLoader is not plain_yaml._PlainLoader


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_shipped_files_mean_the_same_to_both(path):
    text = path.read_text(encoding="utf-8")
    fast = yaml.load(text, Loader=plain_yaml._FastLoader)
    assert fast == yaml.load(text, Loader=plain_yaml._PlainLoader)


@given(st.lists(st.sampled_from(PARTS), max_size=20).map("".join))
def test_what_both_take_means_the_same_to_both(text):
    values = []
    for loader in (plain_yaml._FastLoader, plain_yaml._PlainLoader):
        try:
            values.append(yaml.load(text, Loader=loader))
        except (yaml.YAMLError, ValueError):
            return
    assert repr(values[0]) == repr(values[1])


COLUMN = "this does not begin in the same column as the lines it belongs to"
COLON = (
    "a ': ' stands where none may; put a text that holds one in quotes, and begin the keys of "
    "one group in the same column"
)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("age: 31\t\n", "line 1: a tab stands here; use spaces, not tabs"),
        ("a: 3\na: 4\n", "line 2: the key 'a' stands twice"),
        ("a: &x 3\nb: *x\n", "line 2: aliases (*) are not allowed"),
        ("a: !x 3\n", "line 1: tags (!) are not allowed"),
        (
            "a: 3\nb: {absolute: 6,5}\n",
            "line 2: 5 stands where a key is needed; in a number write a point, not a comma",
        ),
        ("true: 3\n", "line 1: the key true is not text; put it in quotes"),
        ("a: 3\nb: [3\n", "line 2: ']' is missing: what begins here never ends"),
        ("a: 3\nb: {c: 3\n", "line 2: '}' is missing: what begins here never ends"),
        (
            "a: [O1\nb: 4\n",
            "line 1: ',' or ']' is missing in the list or group that begins here",
        ),
        ("a: 'x\nb: 3\n", "line 1: a quote is missing: what begins here never ends"),
        ("b: 3\nname: Praxis: Mitte\n", f"line 2: {COLON}"),
        ("a: 1\n  b: 2\n", f"line 2: {COLON}"),
        ("  a: 1\n b: 2\n", f"line 2: {COLUMN}"),
        ("- a\nb: 2\n", f"line 2: {COLUMN}"),
        (
            "practice: x\neyes closed\n",
            "line 2: a `key: value` is needed, with ':' and a blank after the key",
        ),
        ("a: @x\n", "line 1: a text can't begin with @; put it in quotes"),
        ("a: * x\n", "line 1: a text can't begin with * or &; put it in quotes"),
        ("a: - x\n", "line 1: write a list as [one, two], or each item on a line"),
        ('a: "C:\\Us"\n', "line 1: in double quotes \\ begins a sign; use single quotes"),
        ("a: 3\n---\nb: 2\n", "line 2: `---` may stand at the beginning only"),
        ("a: x\x07\n", "the sign #x0007 can't stand in a text; delete it"),
        (
            'a: "x" y\n',
            "line 1: not readable; put texts with : # , [ ] { } & * ! | > ' or \" in them "
            "in quotes",
        ),
    ],
)
def test_errors_say_where_and_what_to_do_without_words_of_a_parser(text, told):
    with pytest.raises(InvalidFileError) as caught:
        plain_yaml.parse_plain_yaml(text, "x.yaml")
    assert caught.value.problems == [told]


@given(st.lists(st.sampled_from(PARTS), max_size=20).map("".join))
def test_every_error_is_in_plain_words(text):
    try:
        plain_yaml.parse_plain_yaml(text, "x.yaml")
    except InvalidFileError as error:
        (line,) = error.problems
        for jargon in ("token", "expected", "mapping", "sequence", "stream", "scalar", "node"):
            assert jargon not in line
