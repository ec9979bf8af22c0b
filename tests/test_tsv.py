"""BIDS 1.11.1, tabular files: a missing value is written `n/a`, so every other word is itself."""

import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from aftersit.tsv import as_tsv, read_table


def test_only_n_slash_a_is_missing(tmp_path):
    path = tmp_path / "t.tsv"
    path.write_text("name\tvalue\nNA\t2.5\nnull\tn/a\nNaN\t-7\n")
    table = read_table(path)
    assert list(table["name"]) == ["NA", "null", "NaN"]
    assert list(table["value"].isna()) == [False, True, False]
    assert table["value"].dtype == float


VALUES = st.floats(allow_nan=True, allow_infinity=True)


@given(
    st.lists(st.tuples(VALUES, st.integers(), st.sampled_from(["insula", "F8", None])), min_size=2)
)
def test_tables_are_written_as_pandas_writes_them(rows):
    table = pd.DataFrame(rows, columns=["power", "block", "region"])
    theirs = table.to_csv(sep="\t", na_rep="n/a", index=False, float_format="%.6g")
    assert as_tsv(table) == theirs
