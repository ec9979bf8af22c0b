"""One yardstick for all sittings of a client: a protocol with thresholds that never move."""
