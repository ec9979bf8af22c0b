import os
import signal
import subprocess
import sys

import pytest

from aftersit.night.lock import AlreadyRunningError, night_lock

HOLD = """
import sys, time
from pathlib import Path
from aftersit.night.lock import night_lock
with night_lock(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_second_night_is_refused_and_a_killed_one_leaves_no_lock(tmp_path):
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(tmp_path)], stdout=subprocess.PIPE, text=True
    ) as holder:
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(AlreadyRunningError, match="already running"), night_lock(tmp_path):
            pass
        os.kill(holder.pid, signal.SIGKILL)
        holder.wait()
    with night_lock(tmp_path):
        pass
