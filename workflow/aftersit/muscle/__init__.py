"""Brain or muscle: what fast rhythms tell, and what can be taken out of them."""
