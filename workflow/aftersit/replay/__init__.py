"""Run a protocol over a recording, sample after sample."""
