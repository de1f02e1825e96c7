"""Variation: what the bare substrate does by itself.

In: raw bare spots. Out: a covariance model every verdict is measured with.
"""
