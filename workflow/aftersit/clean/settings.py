"""Settings of this stage that change results."""

from aftersit.closed import Closed


class CleanSettings(Closed):
    """Section `clean` of a settings version."""
