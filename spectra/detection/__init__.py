"""Detection: is the coating there, how much, and what would have been missed.

In: raw coated spots, the variation, expected shapes. Out: a verdict with critical and detectable amount.
"""
