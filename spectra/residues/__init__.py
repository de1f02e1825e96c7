"""Residues: bands that nothing expected explains.

In: the raw sample, the variation, what is expected. Out: unexplained bands and a verdict for each residue.
"""
