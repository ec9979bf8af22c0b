"""Raw BIDS: one sitting's upload, free of names, in the form that every later stage reads."""
