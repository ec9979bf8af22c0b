"""From raw BIDS to a cleaned signal, and an account of what could not be used."""
