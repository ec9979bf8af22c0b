"""The yardstick of a client: fixed rules made of a protocol."""

from aftersit.protocol import Condition, Protocol
from aftersit.protocol_rules import BaselineThreshold


def yardstick(protocol: Protocol) -> Protocol:
    """The protocol with thresholds that are fixed against the baseline of each sitting.

    An adaptive threshold becomes the one that it starts from, since one that follows the
    client keeps the rate where it is by design; a threshold in the measure's own unit
    becomes the baseline's mean, since units drift with electrodes and gel.
    """
    conditions = tuple(_fixed(c) for c in protocol.conditions)
    return protocol.model_copy(update={"conditions": conditions})


def _fixed(condition: Condition) -> Condition:
    rule = (
        condition.start_rule
        if condition.rests_on_baseline
        else BaselineThreshold(db_over_baseline=0.0)
    )
    return condition.model_copy(update={"threshold": rule})
