import numpy as np
import pandas as pd

from aftersit.bench.cost import cost_of
from aftersit.bench.table import Table


def test_a_table_is_read_back_as_it_was_written(tmp_path):
    table = Table(
        "muscle", "Area under the curve", [{"level_db": 3, "auc": 0.912}, {"level_db": 6}]
    )
    path = table.write(tmp_path, "cleaning")
    assert path.name == "cleaning-muscle.tsv"
    back = pd.read_csv(path, sep="\t")
    assert back.level_db.tolist() == [3, 6]
    assert back.auc[0] == 0.912
    assert back.auc.isna()[1]
    assert "0.912" in table.text()


def test_a_cost_is_of_its_own_process():
    np.ones(400 << 17)  # MB of doubles; once made a small child look as large as its parent
    small, large = cost_of(np.ones, 10 << 17), cost_of(np.ones, 210 << 17)
    assert 150 < large.peak_mb - small.peak_mb < 250
    assert small.cpu_s > 0.01
