"""The rough picture of the cortex that cleaning uses, against the head that it was made from."""

import numpy as np
import pandas as pd

from aftersit.electrodes import STANDARD_19
from aftersit.muscle.cortex import TABLE


def test_the_table_of_the_cortex_is_the_template_head(head):
    table = pd.read_csv(TABLE, sep="\t", comment="#", index_col="electrode")
    assert list(table.index) == list(table.columns) == list(STANDARD_19)
    gain = head.gain - head.gain.mean(axis=0)
    whole = (gain * head.area_mm2) @ gain.T
    np.testing.assert_allclose(table.to_numpy(), whole * 19 / np.trace(whole), atol=1e-3)
