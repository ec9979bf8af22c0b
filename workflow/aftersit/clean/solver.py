"""Picard's solver; its face for scikit-learn alone would import all of that."""

from aftersit.lean import in_place_of, stand_in

_FACE = "picard.dropin_sklearn"

with in_place_of(_FACE, stand_in(_FACE, Picard=None)):
    from picard import picard

__all__ = ["picard"]
