"""Tables of numbers, as text and spreadsheets hold them.

In: the bytes of a file. Out: one trace a spectrum.
"""
