"""One process for all steps of a workflow: it imports what they need once, and forks for each.

Importing libraries costs more than most steps do themselves. `serving` starts the process; a
step's own program hands its arguments and open files over (`aftersit.hand_over`) and waits.
Each step is a fork of its own all the same, with its own limits, so that nothing of one step
can reach another. Without that process (by hand, on another machine) a step runs in its own
program: the same code, the same bytes.
"""

import ast
import contextlib
import gc
import importlib
import json
import os
import runpy
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from aftersit.children import end_with_parent
from aftersit.hand_over import MOST_BYTES, PLACE, TAKEN

_READING = ("mne.io.brainvision.brainvision", "mne.epochs", "mne.filter")
_PDF = (
    "babel.dates",
    "babel.numbers",
    "font_source_sans_pro",
    "weasyprint",
    "PIL.ImageFont",
)
LATER = {
    "write_bids": ("mne.io.edf.edf", "mne.channels.montage", "mne_bids.write", "edfio", "pybv"),
    "clean_recording": (*_READING, "picard", "pybv"),
    "measure_regions": (*_READING, "scipy.special", "specparam"),
    "replay_protocol": (*_READING, "scipy.stats", "specparam"),
    "write_pages": _PDF,
    "write_progress": (*_PDF, "scipy.stats"),
}
"""What a script's work imports only when it comes to it. Nothing that starts a thread
(onnxruntime does): a fork has only the one that forked."""
_SOCKET = ".aftersit/tmp/steps"
_ONE_THREAD = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")


@contextmanager
def serving(clinic: Path) -> Iterator[dict[str, str]]:
    """Run the process; yields what must stand in the environment of the workflow.

    Parameters
    ----------
    clinic : Path
        The clinic's folder, in which every step works; `.aftersit/tmp/` is there.
    """
    with _bound(clinic) as listening:
        words = (str(listening.fileno()), str(os.getpid()))
        server = subprocess.Popen(
            [sys.executable, "-m", "aftersit.shared_imports", *words],
            cwd=clinic,
            pass_fds=(listening.fileno(),),
            env=os.environ | _ONE_THREAD | {"MNE_DONTWRITE_HOME": "true"},
        )
    try:
        yield {PLACE: _SOCKET}
    finally:
        server.terminate()
        server.wait()
        (clinic / _SOCKET).unlink(missing_ok=True)


def _bound(clinic: Path) -> socket.socket:
    """A listening socket, by way of its folder's number: the system refuses long paths."""
    path = clinic / _SOCKET
    path.unlink(missing_ok=True)
    folder = os.open(path.parent, os.O_PATH | os.O_DIRECTORY)
    listening = socket.socket(socket.AF_UNIX)
    listening.bind(f"/proc/self/fd/{folder}/{path.name}")
    os.close(folder)
    listening.listen(64)
    return listening


def main(descriptor: int, parent: int) -> None:
    """Take steps until told to stop, then wait for those that still run."""
    end_with_parent(parent)
    os.umask(0o077)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    listening = socket.socket(fileno=descriptor)
    try:
        while True:
            connection, _ = listening.accept()
            with connection, contextlib.suppress(OSError, ValueError, ImportError):
                _take(connection, listening)
            _bury(os.WNOHANG)
    finally:
        _bury(0)


def _bury(options: int) -> None:
    """Collect children that ended; their cost counts from then on."""
    with contextlib.suppress(ChildProcessError):
        while os.waitpid(-1, options)[0]:
            pass


def _take(connection: socket.socket, listening: socket.socket) -> None:
    """Import what a step needs and fork for it."""
    words, files, _, _ = socket.recv_fds(connection, MOST_BYTES, 2)
    argv = json.loads(words)
    load(Path(argv[0]))
    me = os.getpid()
    if os.fork() == 0:
        listening.close()
        _serve(connection, argv, files, me)
    for file in files:
        os.close(file)


def load(script: Path) -> None:
    """Import what a script imports, and what its work comes to later."""
    tree = ast.parse(script.read_text(encoding="utf-8"))
    named = [node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    wanted = [n for n in (*named, *LATER.get(script.stem, ())) if n not in sys.modules]
    for name in wanted:
        importlib.import_module(name)
    if wanted:
        gc.collect()
        gc.freeze()  # so that forks do not copy what they only look at


def _serve(connection: socket.socket, argv: list[str], files: list[int], parent: int) -> None:
    """Do one step, as its own program would, and leave."""
    from aftersit.step import run_forked

    code = 1
    try:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        end_with_parent(parent)
        for place, file in enumerate(files, 1):
            os.dup2(file, place)
        connection.sendall(TAKEN)
        sys.argv = argv
        code = run_forked(runpy.run_path(argv[0])["main"], connection)
        sys.stdout.flush()
        connection.sendall(bytes([code]))
    finally:
        os._exit(code)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
