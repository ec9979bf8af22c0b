"""Libraries are imported without what they have for other uses, and are themselves all the same."""

import subprocess
import sys

CODE = """
import sys
from aftersit.clean.solver import picard
from aftersit.head.spectral_model import SpectralModel
print([name for name in ("matplotlib", "sklearn") if name in sys.modules])
import matplotlib
from picard.solver import picard as own
from specparam.models import SpectralModel as own_model
print(picard is own, SpectralModel is own_model, matplotlib.__name__)
"""


def test_neither_library_brings_what_nothing_here_uses():
    told = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True)
    assert told.stdout.splitlines() == ["[]", "True True matplotlib"], told.stderr
