"""Steps forked from one process leave the same bytes as steps in programs of their own."""

import subprocess
import sys

import nights
import pytest

from aftersit.night.ledger import Ledger

BY_ITSELF = "import contextlib\nfrom aftersit.night import snakemake\n"
BY_ITSELF += "snakemake.serving = lambda clinic: contextlib.nullcontext({})\n"


@pytest.mark.slow
def test_a_night_with_shared_imports_makes_the_same_bytes(undisturbed, tmp_path):
    clinic = undisturbed.begin(tmp_path / "by-itself")
    done = subprocess.run(
        [sys.executable, "-c", BY_ITSELF + nights.NIGHT, str(clinic.root)],
        capture_output=True,
        text=True,
        umask=0o077,
        timeout=nights.MOST_S,
    )
    assert done.returncode in (0, 3), done.stdout + done.stderr
    assert all(Ledger(clinic).is_finished(e) for e in Ledger(clinic).entries())
    assert nights.differences(nights.results(clinic), undisturbed.made) == []
