"""All deliberate faults, in the order of the page's groups."""

from aftersit.evidence.fault_files import BIDS, FORMATS
from aftersit.evidence.fault_head import HEAD, INVERSE
from aftersit.evidence.fault_results import ARCHIVE, CLEANING, LANGUAGE, REPLAY
from aftersit.evidence.fault_signal import FILTERS, POWER

FAULTS = (
    *FORMATS,
    *BIDS,
    *POWER,
    *FILTERS,
    *HEAD,
    *INVERSE,
    *CLEANING,
    *REPLAY,
    *LANGUAGE,
    *ARCHIVE,
)
