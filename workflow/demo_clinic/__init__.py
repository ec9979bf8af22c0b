"""The invented demo clinic: simulated sittings with a known truth."""
