"""Specparam's model of one spectrum; it draws if it can, which would import matplotlib."""

from aftersit.lean import in_place_of

with in_place_of("matplotlib", None):
    from specparam import SpectralModel

__all__ = ["SpectralModel"]
