"""Quality: what is doubtful about one spectrum, or about several together.

In: spectra as read. Out: faults, each with its remedy.
"""
