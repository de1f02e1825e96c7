"""JCAMP-DX for infrared.

In: the bytes of a file. Out: one trace a block, every promise of its header checked.
"""
