"""BIDS 1.11.1, tabular files: a missing value is written `n/a`, so every other word is itself."""

from aftersit.tsv import read_table


def test_only_n_slash_a_is_missing(tmp_path):
    path = tmp_path / "t.tsv"
    path.write_text("name\tvalue\nNA\t2.5\nnull\tn/a\nNaN\t-7\n")
    table = read_table(path)
    assert list(table["name"]) == ["NA", "null", "NaN"]
    assert list(table["value"].isna()) == [False, True, False]
    assert table["value"].dtype == float
