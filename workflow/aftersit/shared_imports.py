"""One process for all steps of a workflow: it imports what they need once, and forks for each.

Importing libraries costs more than most steps do themselves. `serving` forks the process, so
that it has at once what the night has imported; a step's own program hands its arguments and
open files over (`aftersit.hand_over`) and waits. Each step is a fork of its own all the same,
with its own limits, so that nothing of one step can reach another. Without that process (by
hand, on another machine) a step runs in its own program: the same code, the same bytes.
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
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

from aftersit.children import end_with_parent, forked, speak_to
from aftersit.hand_over import MOST_BYTES, PLACE, TAKEN
from aftersit.threads import use_one_thread

NAME = "aftersit-steps"
"""What `ps` calls the process."""

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
    "clean_recording": (*_READING, "aftersit.clean.solver", "pybv"),
    "measure_regions": (*_READING, "scipy.special", "aftersit.head.spectral_model"),
    "replay_protocol": (*_READING, "scipy.stats", "aftersit.head.spectral_model"),
    "write_pages": _PDF,
    "write_progress": (*_PDF, "scipy.stats"),
}
"""What a script's work imports only when it comes to it. Nothing that starts a thread
(onnxruntime does): a fork has only the one that forked."""
_SOCKET = ".aftersit/tmp/steps"


@contextmanager
def serving(clinic: Path) -> Iterator[dict[str, str]]:
    """Run the process; yields what must stand in the environment of the workflow.

    Parameters
    ----------
    clinic : Path
        The clinic's folder, in which every step works; `.aftersit/tmp/` is there.
    """
    with _bound(clinic) as listening:
        server = forked(NAME, partial(serve, listening, clinic))
    try:
        yield {PLACE: _SOCKET}
    finally:
        os.kill(server, signal.SIGTERM)
        os.waitpid(server, 0)
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


def serve(listening: socket.socket, clinic: Path) -> None:
    """Take steps until told to stop, then wait for those that still run."""
    os.chdir(clinic)
    os.umask(0o077)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the night is told as well, and ends this
    os.environ["MNE_DONTWRITE_HOME"] = "true"
    use_one_thread()
    os.environ["TMPDIR"] = str(Path(_SOCKET).parent.absolute())
    tempfile.tempdir = None  # else it stays what it was before the fork
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
        speak_to(*files)
        connection.sendall(TAKEN)
        sys.argv = argv
        code = run_forked(runpy.run_path(argv[0])["main"], connection)
        sys.stdout.flush()
        connection.sendall(bytes([code]))
    finally:
        os._exit(code)
