"""The undisturbed night that others are compared with."""

from undisturbed_nights import undisturbed

__all__ = ["undisturbed"]
