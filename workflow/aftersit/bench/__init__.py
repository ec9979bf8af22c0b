"""Accuracy and speed in figures: `scripts/aftersit bench NAME`.

Each bench is a module here with one public function,
`tables(quick: bool) -> Iterator[Table]`. It is seeded, so that accuracy comes
out the same each time; costs are measured as they are. `quick` runs few cases,
to see that the bench works, and is not to be quoted.
"""
