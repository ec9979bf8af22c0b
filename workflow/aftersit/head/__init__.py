"""Template head, sLORETA and region measures."""
