"""Every error this project raises, in one tree.

::

    CoatproofError               base: one clear message, exit status 2 on the command line
    ├── UsageError               the command was called in a way that cannot work
    ├── ReadingError             a file cannot be read as infrared spectra
    │   ├── FormatError          its structure is broken, or it is of a kind we do not read
    │   ├── PromiseError         it contradicts its own header
    │   └── AmbiguityError       it can be read in two ways that give different numbers
    ├── StudyError               the study file asks for something impossible
    ├── SpectraError             spectra that cannot be used, alone or together
    ├── SettingError             a setting outside its range
    ├── BandTableError           a reference band table is broken (raised by ``reference_bands``)
    └── OutputError              a result cannot be written

A message says where (file, line, cell or cm-1), what was found, what was expected and what to do.
"Cannot tell, because ..." is a verdict, never an exception.
"""

from __future__ import annotations

from reference_bands.errors import BandTableError as BandTableError
from reference_bands.errors import CoatproofError as CoatproofError


class UsageError(CoatproofError):
    """The command was called in a way that cannot work."""


class ReadingError(CoatproofError):
    """A file cannot be read as infrared spectra."""


class FormatError(ReadingError):
    """The file's structure is broken, or it is of a kind that is not read."""


class PromiseError(ReadingError):
    """The file contradicts what its own header promises."""


class AmbiguityError(ReadingError):
    """The file can be read in two ways that give different numbers."""


class StudyError(CoatproofError):
    """The study file asks for something impossible."""


class SpectraError(CoatproofError):
    """Spectra that cannot be used, alone or together."""


class SettingError(CoatproofError):
    """A setting outside its range."""


class OutputError(CoatproofError):
    """A result cannot be written."""
