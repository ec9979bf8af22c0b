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


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("age: 31\t\n", "line 1: found character '\\t' that cannot start any token"),
        ("a: 3\na: 4\n", "line 2: the key 'a' stands twice"),
        ("a: &x 3\nb: *x\n", "line 2: aliases (*) are not allowed"),
        ("a: [3\n", "line 2: expected ',' or ']', but got '<stream end>'"),
    ],
)
def test_errors_are_those_of_the_slower_parser(text, told):
    with pytest.raises(InvalidFileError) as caught:
        plain_yaml.parse_plain_yaml(text, "x.yaml")
    assert caught.value.problems == [told]
