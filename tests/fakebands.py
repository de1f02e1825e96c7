"""Parts of the hand-made result of ``fakes``: the axis, invented bands, and findings about single bands."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from spectra.findings import BandFinding, BandSupport, Presence, Reason

GRID = np.arange(700.0, 4001.0, 2.0)
USABLE = ~(((GRID > 1900) & (GRID < 2700)) | (GRID > 3550))
ROOT = Path("/data/gauze")
COATING_BANDS = ((3290.0, 0.5, 90.0), (1648.0, 0.9, 28.0), (1542.0, 0.6, 25.0), (1238.0, 0.2, 20.0))
SUBSTRATE_BANDS = ((2945.0, 0.4, 20.0), (1722.0, 1.0, 9.0), (1294.0, 0.4, 12.0), (1165.0, 0.7, 14.0))


def bands_at(bands: tuple[tuple[float, float, float], ...], shift: float = 0.0) -> np.ndarray[Any, Any]:
    """Sum of Gaussian bands (position, height, standard deviation)."""
    return sum(
        (height * np.exp(-0.5 * ((GRID - centre - shift) / width) ** 2) for centre, height, width in bands),
        np.zeros_like(GRID),
    )


def band(position: float, **changes: Any) -> BandFinding:
    """A detected, unchanged band; ``changes`` overrides."""
    values: dict[str, Any] = {
        "neat_position": position,
        "neat_error": 0.12,
        "expected_position": position + 7.0,
        "expected_error": 1.4,
        "found_position": position + 7.4,
        "found_error": 0.31,
        "shift": 0.4,
        "shift_low": -0.62,
        "shift_high": 1.42,
        "margin": 4.0,
        "neat_height": 0.9,
        "found_height": 0.0191,
        "critical_height": 0.0042,
        "neat_width": 48.0,
        "found_width": 46.0,
        "verdict": "unchanged",
        "detected": True,
        "masked": False,
        "evidence": 14.2,
        "p_value": 3.1e-6,
        "p_adjusted": 9.3e-6,
        "assignment": "amide I",
        "source": "invented2026",
        "checked": "read",
        "confidence": 0.90,
        "fate": "at its place",
        "ratio": 1.02,
        "ratio_low": 0.91,
        "ratio_high": 1.13,
    }
    return BandFinding(**(values | changes))


SUBSTRATE_BAND = band(
    1722.0,
    expected_position=1722.0,
    expected_error=0.2,
    found_position=1722.1,
    found_error=0.08,
    shift=0.1,
    shift_low=-0.09,
    shift_high=0.29,
    found_height=0.98,
    critical_height=0.021,
    neat_width=21.0,
    found_width=21.3,
    assignment="C=O stretch",
    ratio=None,
    ratio_low=None,
    ratio_high=None,
)
MOVED_SUBSTRATE = Reason(
    "shifted", {"position": 1722.0, "shift": 6.2, "low": 5.1, "high": 7.3, "margin": 4.0}
)
NOT_SEEN: dict[str, Any] = {
    "found_position": None,
    "found_error": None,
    "shift": None,
    "shift_low": None,
    "shift_high": None,
    "found_width": None,
    "found_height": 0.0011,
    "detected": False,
    "verdict": "cannot tell",
    "evidence": 0.9,
    "p_value": 0.2,
    "p_adjusted": 0.61,
    "fate": "not judged",
    "ratio": 0.06,
    "ratio_low": -0.09,
    "ratio_high": 0.21,
}
HIDDEN: dict[str, Any] = NOT_SEEN | {"masked": True, "fate": "hidden", "ratio_low": -1.4, "ratio_high": 1.5}


JOINT = {"amount": 0.02104, "critical": 0.0046, "detectable": 0.0093, "t": 9.1, "p_value": 2e-7}


def support(position: float, **changes: Any) -> BandSupport:
    """A band that is found by itself."""
    values: dict[str, Any] = {
        "position": position,
        "low": position - 40.0,
        "high": position + 40.0,
        "amount": 0.022,
        "error": 0.0021,
        "critical_amount": 0.0061,
        "detectable_amount": 0.012,
        "t": 10.4,
        "p_value": 1e-6,
        "p_adjusted": 3e-6,
        "masked": False,
        "supports": True,
    }
    return BandSupport(**(values | changes))


SINGLE = (
    support(1655.4),
    support(1549.4),
    support(1245.0, supports=False),
    support(3297.0, masked=True, supports=False),
)


def presence(verdict: str, *reasons: Reason, **changes: Any) -> Presence:
    values: dict[str, Any] = {
        "amount": 0.02104,
        "amount_low": 0.0152,
        "amount_high": 0.0268,
        "critical_amount": 0.0046,
        "detectable_amount": 0.0093,
        "p_value": 2e-7,
        "spots": 6,
        "specimens": 2,
        "confidence": 0.95,
        "band_evidence": SINGLE,
    }
    return Presence(verdict, reasons, **(values | changes))
