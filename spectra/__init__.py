"""Infrared evidence for thin coatings: from spectra to a decision with known error rates.

The front door. Names are imported when they are first used, so that ``import spectra`` costs nothing.

Examples
--------
>>> import spectra
>>> spectra.Spectrum([400.0, 402.0], [0.1, 0.2], spectra.Origin("a.csv")).step
2.0
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spectra.errors import CoatproofError
    from spectra.front_door import Verification, key_figure, overlay, verify
    from spectra.reading import read
    from spectra.report import read_report, write_report
    from spectra.report.tables.frames import tables
    from spectra.spectrum import Origin, Spectrum
    from spectra.study.loading import load_study, study_from_files
    from spectra.study.records import Study
    from spectra.writing.csv_file import write_csv
    from spectra.writing.jcamp_file import write_jcamp

__all__ = [
    "CoatproofError",
    "Origin",
    "Spectrum",
    "Study",
    "Verification",
    "key_figure",
    "load_study",
    "overlay",
    "read",
    "read_report",
    "study_from_files",
    "tables",
    "verify",
    "write_csv",
    "write_jcamp",
    "write_report",
]

_HOMES = {
    "CoatproofError": "errors",
    "Origin": "spectrum",
    "Spectrum": "spectrum",
    "Study": "study.records",
    "Verification": "front_door",
    "key_figure": "front_door",
    "load_study": "study.loading",
    "overlay": "front_door",
    "read": "reading",
    "read_report": "report",
    "study_from_files": "study.loading",
    "tables": "report.tables.frames",
    "verify": "front_door",
    "write_csv": "writing.csv_file",
    "write_jcamp": "writing.jcamp_file",
    "write_report": "report",
}


def __getattr__(name: str) -> Any:
    """Import a public name on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module 'spectra' has no attribute {name!r}; it offers {', '.join(__all__)}")
    return getattr(import_module(f"spectra.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
