"""Verification: the chain, one stage after the other.

In: a Study. Out: a Verification with every stage kept.
"""
