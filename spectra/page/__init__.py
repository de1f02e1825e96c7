"""The page: the whole job on one folder, in a browser, for people who do not type commands.

In: a folder of spectra and its study file. Out: the same study file, and the files ``verify`` writes.
"""
