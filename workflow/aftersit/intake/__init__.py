"""From an upload to a sitting: what the front desk would check."""
