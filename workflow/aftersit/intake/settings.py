"""Settings of this stage that change results."""

from aftersit.closed import Closed


class IntakeSettings(Closed):
    """Section `intake` of a settings version."""
