"""The pages people get."""
