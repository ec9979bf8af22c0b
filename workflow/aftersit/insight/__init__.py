"""What a replay tells: changes, chance, what-if, advice, agreement; from its timeline."""
