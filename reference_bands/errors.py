"""The root of the project's error tree and the branch this package raises.

The tree is drawn in ``spectra.errors``; its root stands here because ``reference_bands`` is the lowest
floor and can be used on its own.
"""

from __future__ import annotations


class CoatproofError(ValueError):
    """Base of every error of the project: one clear message that says where, what and what to do.

    Examples
    --------
    >>> raise CoatproofError("bands.csv line 3: position 'abc' is not a number; write it in cm-1")
    Traceback (most recent call last):
    reference_bands.errors.CoatproofError: bands.csv line 3: position 'abc' is not a number; write it in cm-1
    """


class BandTableError(CoatproofError):
    """A reference band table is broken: the message names file, line, cell and the expected form."""
