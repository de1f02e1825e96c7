"""Reference bands: what absorbs where in the infrared, who says so, and how sure that is.

Usable on its own; standard library only.

Examples
--------
>>> table = load()
>>> [band.vibration for band in table.near(1724, material="PCL")][0]
'ester C=O stretch'
"""

from __future__ import annotations

from reference_bands.errors import BandTableError
from reference_bands.loading import load
from reference_bands.records import Band, GroupRange, ProcessChange, Source
from reference_bands.search import find, materials
from reference_bands.table import BandTable

__all__ = [
    "Band",
    "BandTable",
    "BandTableError",
    "GroupRange",
    "ProcessChange",
    "Source",
    "find",
    "load",
    "materials",
]
