"""``result.json``: the verification as plain data."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spectra.findings import Verification


def as_dict(verification: Verification) -> dict[str, Any]:
    """Return the content of ``result.json``, format 1."""
    raise NotImplementedError(verification)
