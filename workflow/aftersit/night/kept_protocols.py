"""Copies of the protocol versions that results rest on, made when a sitting is received.

What a version says is fixed from its first use on: the copy counts, and a changed
file under `protocols/` sets new uploads aside until it is put right.
"""

from collections.abc import Mapping

from aftersit.clinic import Clinic
from aftersit.files import write_atomically
from aftersit.night.contents import contents_of_file
from aftersit.night.private import make_read_only
from aftersit.night.register import Register
from aftersit.protocol import protocol_path


def keep_protocols(clinic: Clinic, pinned: Mapping[str, int], register: Register) -> None:
    """Copy these versions unless they were copied before."""
    for name, version in sorted(pinned.items()):
        copy = protocol_path(clinic.kept_protocols, name, version)
        if not copy.is_file():
            said = protocol_path(clinic.protocols, name, version).read_bytes()
            register.add(str(copy.relative_to(clinic.root)), contents_of_file(said))
            write_atomically(copy, said)
        make_read_only(copy)
