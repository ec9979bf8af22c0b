"""The checks by group; importing them registers them."""

from aftersit.evidence.checks import (  # noqa: F401
    archive,
    bags,
    bids,
    cleaning,
    filters,
    formats,
    head,
    inverse,
    language,
    muscle,
    power,
    recordings,
    replay,
    spectra,
)
