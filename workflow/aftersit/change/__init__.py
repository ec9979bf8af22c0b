"""Revised protocols and settings: frozen versions, rescoring, comparing, explaining."""
