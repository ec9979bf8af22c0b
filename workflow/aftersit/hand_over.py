"""A step's own program hands its work over to the process that has all imports, if there is one.

The other side is `aftersit.shared_imports`. Little is imported here: this runs in every step.
"""

import json
import os
import socket
import sys

PLACE = "AFTERSIT_STEPS"
"""Environment variable: the socket, relative to the clinic, behind which steps run."""
TAKEN = b"+"
"""What the program hears when its work was taken over; the exit code follows at the end."""
MOST_BYTES = 1 << 20


def hand_over() -> int | None:
    """Have this program's work done; returns its exit code.

    None where nobody took it: then this program has to do it itself.
    """
    place = os.environ.get(PLACE)
    if not place:
        return None
    with socket.socket(socket.AF_UNIX) as connection:
        try:
            connection.connect(place)
            words = json.dumps(sys.argv).encode()
            socket.send_fds(connection, [words], [1, 2])
            taken = connection.recv(1)
        except OSError:
            return None
        return _code(connection) if taken == TAKEN else None


def _code(connection: socket.socket) -> int:
    """The exit code; 1 when the work's process died without one."""
    try:
        code = connection.recv(1)
    except OSError:
        code = b""
    return code[0] if code else 1
