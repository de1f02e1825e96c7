"""Writing: spectra and results, whole or not at all.

In: spectra or finished bytes. Out: files.
"""
