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
    from spectra.reading import read
    from spectra.report import write_report
    from spectra.result import Verification
    from spectra.spectrum import Origin, Spectrum
    from spectra.study import Study
    from spectra.studyfile import load_study, study_from_files
    from spectra.verification import verify
    from spectra.writing import write_csv, write_jcamp

__all__ = [
    "CoatproofError",
    "Origin",
    "Spectrum",
    "Study",
    "Verification",
    "load_study",
    "read",
    "study_from_files",
    "verify",
    "write_csv",
    "write_jcamp",
    "write_report",
]

_HOMES = {
    "CoatproofError": "errors",
    "Origin": "spectrum",
    "Spectrum": "spectrum",
    "Study": "study",
    "Verification": "result",
    "load_study": "studyfile",
    "read": "reading",
    "study_from_files": "studyfile",
    "verify": "verification",
    "write_csv": "writing",
    "write_jcamp": "writing",
    "write_report": "report",
}


def __getattr__(name: str) -> Any:
    """Import a public name on first use."""
    if name not in _HOMES:
        raise AttributeError(f"module 'spectra' has no attribute {name!r}; it offers {', '.join(__all__)}")
    return getattr(import_module(f"spectra.{_HOMES[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *__all__])
