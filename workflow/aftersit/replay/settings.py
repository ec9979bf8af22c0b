"""Settings of this stage that change results."""

from aftersit.closed import Closed


class ReplaySettings(Closed):
    """Section `replay` of a settings version."""
