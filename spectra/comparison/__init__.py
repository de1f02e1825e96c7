"""Comparison: between spots, specimens, recipes and conditions.

In: amounts by spot. Out: how even, and what changed.
"""
