"""From the EEG recording of a meditation-training sitting to answers."""

__version__ = "0.1.0"
