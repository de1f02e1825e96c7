"""Preprocessing: one grid, baselines removed, contact levelled; the same rule for every spectrum.

In: spectra of a study. Out: stacks.
"""
