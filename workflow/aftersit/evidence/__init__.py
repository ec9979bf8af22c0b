"""How do you know? Checks of the main job against the outside world: `scripts/aftersit validate`.

A fact stands once, with its source, in `shared/facts.yaml`. A check is a small function
that measures the project's own code against one fact; the command and the tests run the
same function. `faults` breaks the code on purpose, to show that the checks can fail.
"""
