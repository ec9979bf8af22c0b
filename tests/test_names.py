import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from aftersit.names import code_of, shown


@pytest.mark.parametrize(
    ("raw", "text"),
    [
        (b"tue-0930 b", "tue-0930 b"),
        ("Gr\u00fcn".encode(), "Gr\u00fcn"),
        (b"Gr\xfcn", "Gr\\xfcn"),  # Latin-1
        (b"two\nlines\x1b[2J", "two\\x0alines\\x1b[2J"),
        ("right\u202eleft".encode(), "right\\xe2\\x80\\xaeleft"),  # turns the line around
    ],
)
def test_a_name_is_text_on_one_line(raw, text):
    assert shown(os.fsdecode(raw)) == text


@given(st.binary(min_size=1, max_size=255))
def test_any_name_can_be_written(raw):
    name = os.fsdecode(raw)
    shown(name).encode("utf-8")
    assert shown(name).isprintable()
    assert len(code_of(name)) == 8
