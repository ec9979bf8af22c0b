"""Settings of this stage that change results."""

from aftersit.closed import Closed


class HeadSettings(Closed):
    """Section `head` of a settings version."""
