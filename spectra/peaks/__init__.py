"""Peaks: where bands are, how strong and how wide, each with its uncertainty.

In: one curve or a stack. Out: peaks, pieces, window fits and references.
"""
