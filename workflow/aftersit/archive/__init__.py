"""The archive for a research partner: a bag with BIDS data in which nobody is named."""
