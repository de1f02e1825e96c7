"""Optics: the same chemistry moves, so predict where it must be."""
