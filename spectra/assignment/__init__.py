"""Assignment: what the reference tables say of a position, a change or a set of bands.

In: positions and the band tables. Out: names with sources.
"""
