"""All deliberate faults, in the order of the page's groups."""

from aftersit.evidence.fault_bags import BAGS
from aftersit.evidence.fault_cleaning import CLEANING
from aftersit.evidence.fault_files import BIDS, FORMATS
from aftersit.evidence.fault_head import HEAD
from aftersit.evidence.fault_inverse import INVERSE
from aftersit.evidence.fault_language import ARCHIVE, LANGUAGE
from aftersit.evidence.fault_replay import REPLAY
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
    *BAGS,
)
