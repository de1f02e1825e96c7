"""What can be doubtful about one spectrum: one small function for each kind of fault.

Each takes the spectrum, its measured quality and the settings, and returns the faults it finds.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from spectra.noise import estimate_noise, fine_structure
from spectra.quality.measures import Quality, even_points
from spectra.quality.settings import CheckSettings
from spectra.reading.units.evidence import weigh
from spectra.spectrum import Fault, Spectrum
from spectra.units import FloatArray, from_absorbance

MID_INFRARED = (400.0, 4000.0)


def _ranged(x: FloatArray, marked: np.ndarray) -> str:
    """Wavenumber range of the marked points."""
    return f"{x[marked].min():.0f} to {x[marked].max():.0f} cm-1"


def _saturated(spectrum: Spectrum, _: Quality, settings: CheckSettings) -> list[Fault]:
    with np.errstate(invalid="ignore"):
        high = spectrum.absorbance > settings.saturated
    if not np.any(high):
        return []
    found = f"{np.count_nonzero(high)} points above an absorbance of {settings.saturated:g}"
    remedy = "Measure a thinner sample; do not use these bands for heights or positions."
    return [Fault("absorbance-saturated", "warning", _ranged(spectrum.wavenumbers, high), found, remedy)]


def _contradictory(spectrum: Spectrum, _: Quality, __: CheckSettings) -> list[Fault]:
    """Ordinates that do not look like what they are said to be."""
    unit = spectrum.origin.y_unit
    evidence = weigh(spectrum.wavenumbers, from_absorbance(spectrum.absorbance, unit))
    if evidence is None:
        return []
    scores, said = evidence.scores, ""
    rival = max((name for name in scores if name != "absorbance"), key=lambda name: scores[name], default="")
    if unit == "absorbance" and evidence.high > 6.0:
        said = f"values up to {evidence.high:.4g} are no absorbance; they look like percent or raw intensity"
    elif evidence.swings:
        said = f"read as {unit}, but the values swing about zero with no net area, like a derivative"
    elif unit == "absorbance" and rival and scores[rival] > max(0.2, scores[unit] + 0.9):
        said = "read as absorbance, but the bands point down from a high level, like transmittance"
    elif unit != "absorbance" and scores.get("absorbance", -1.0) > max(0.2, scores.get(rival, -1.0) + 0.9):
        said = f"read as {unit}, but the bands point up, like absorbance"
    if not said:
        return []
    remedy = "Check the unit the program exported, correct the header and read the file again."
    return [Fault("ordinate-contradicts-unit", "warning", "whole range", said, remedy)]


def _quantised(spectrum: Spectrum, _: Quality, settings: CheckSettings) -> list[Fault]:
    """Values rounded so that neighbours repeat."""
    values = from_absorbance(spectrum.absorbance, spectrum.origin.y_unit)
    steps = np.abs(np.diff(values[np.isfinite(values)]))
    moved = steps[steps > 1e-12 * np.nanmax(np.abs(values))]
    if moved.size == 0 or np.count_nonzero(moved) > 0.85 * steps.size:
        return []
    step = float(np.percentile(moved, 1))
    whole = np.abs(moved / step - np.round(moved / step)) < 0.05
    typical = np.nanmedian(np.abs(np.diff(np.unique(np.round(spectrum.absorbance[np.isfinite(values)], 12)))))
    if np.mean(whole) < 0.9 or not typical >= settings.quantised:
        return []
    found = f"values come in steps of {step:.3g} ({spectrum.origin.y_unit}), neighbours repeat"
    remedy = "Export with more decimals; small bands are lost in the steps."
    return [Fault("values-quantised", "warning", "whole range", found, remedy)]


def _uneven(spectrum: Spectrum, _: Quality, __: CheckSettings) -> list[Fault]:
    """Gaps in the axis, and steps that vary."""
    x = spectrum.wavenumbers
    steps = np.diff(x)
    wide = steps > 3.0 * np.median(steps)
    found = []
    if np.any(wide) and np.count_nonzero(wide) <= max(3, 0.01 * steps.size):
        at = int(np.argmax(steps))
        found.append(
            Fault(
                "axis-gap",
                "warning",
                f"{x[at]:.1f} to {x[at + 1]:.1f} cm-1",
                f"no points over {steps[at]:.4g} cm-1, elsewhere every {np.median(steps):.4g}",
                "Export the full range, or leave the gap out of the evaluation.",
            )
        )
    low, high = np.percentile(steps, (5, 95))
    if high > 1.2 * low:
        found.append(
            Fault(
                "axis-uneven",
                "note",
                "whole range",
                f"points are {low:.4g} to {high:.4g} cm-1 apart",
                "Nothing to do: the spectrum is interpolated; export the original even points if "
                "there are any.",
            )
        )
    return found


def _constant_ends(spectrum: Spectrum, _: Quality, __: CheckSettings) -> list[Fault]:
    """Find ends filled with one value."""
    x, y = spectrum.wavenumbers, spectrum.absorbance
    changes = np.flatnonzero(np.diff(y) != 0)
    found = []
    ends = ((0, changes[0]), (changes[-1] + 1, y.size - 1)) if changes.size else ((0, y.size - 1),)
    for first, last in ends:
        if last - first + 1 >= 8:
            found.append(
                Fault(
                    "constant-end",
                    "warning",
                    f"{x[first]:.0f} to {x[last]:.0f} cm-1",
                    f"{last - first + 1} points hold the same value {y[first]:.4g}",
                    "Leave this range out: it was filled, not measured.",
                )
            )
    return found


def _not_a_spectrum(spectrum: Spectrum, quality: Quality, __: CheckSettings) -> list[Fault]:
    """Interferograms and single beams look like neither absorbance nor transmittance."""
    _, values = even_points(spectrum)
    values = from_absorbance(values, spectrum.origin.y_unit)
    values = values[np.isfinite(values)]
    centred = values - np.median(values)
    typical = float(np.median(np.abs(centred)))
    turns = float(np.mean(np.diff(np.sign(np.diff(values))) != 0))
    burst = float(np.max(np.abs(centred)))
    if typical and burst > 60 * typical and turns > 0.25 and values.min() < -0.3 * burst < 0:
        said, what = "a burst that alternates in sign, like an interferogram", "interferogram"
    elif _is_single_beam(values, quality):
        said, what = "one broad hump with gas lines cut into it, like a single beam", "single-beam"
    else:
        return []
    remedy = "Export the ratio to the background as absorbance or transmittance."
    return [Fault(f"{what}-suspected", "warning", "whole range", f"the curve has {said}", remedy)]


def _is_single_beam(values: FloatArray, quality: Quality) -> bool:
    """Both ends dark, a bright middle, and vapour that takes light away."""
    top = float(np.percentile(values, 98))
    edge = max(8, values.size // 50)
    dark = np.median(values[:edge]) < 0.15 * top and np.median(values[-edge:]) < 0.25 * top
    smooth = values - fine_structure(values, max(4, values.size // 40))
    rising = np.mean(smooth > 0.3 * top) > 0.35
    gases = [gas for gas in (quality.vapour, quality.carbon_dioxide) if gas is not None]
    return bool(dark and rising and any(abs(gas.certainty) > 8 for gas in gases))


def _outside(spectrum: Spectrum, _: Quality, __: CheckSettings) -> list[Fault]:
    """Far and near infrared."""
    x = spectrum.wavenumbers
    outside = (x < MID_INFRARED[0] - 5) | (x > MID_INFRARED[1] + 5)
    found = []
    if np.mean(outside) > 0.1:
        remedy = "Nothing to do: band tables and optics are used from 400 to 4000 cm-1 only."
        said = f"{np.mean(outside):.0%} of the points lie outside the mid infrared"
        found.append(Fault("outside-mid-infrared", "note", f"{x[0]:.0f} to {x[-1]:.0f} cm-1", said, remedy))
    return found


def _noise(spectrum: Spectrum, quality: Quality, settings: CheckSettings) -> list[Fault]:
    """Noise above the size of weak bands, and an end where the detector sees no light."""
    found = []
    if quality.typical_noise > settings.noisy:
        levels = "; ".join(
            f"{low:.0f} to {high:.0f} cm-1: {level:.2g} A" for low, high, level in quality.noise
        )
        remedy = "Average more scans or improve the contact."
        found.append(Fault("noise-high", "warning", "whole range", f"noise {levels}", remedy))
    limit = _dark_end(spectrum, max(20.0 * quality.typical_noise, settings.noisy))
    if limit is not None:
        low = spectrum.wavenumbers[0]
        said = f"noise is more than 20 times that of the rest below {limit:.0f} cm-1"
        remedy = "Leave this range out: window, crystal or detector end there."
        found.append(Fault("detector-cut-off", "warning", f"{low:.0f} to {limit:.0f} cm-1", said, remedy))
    return found


def _dark_end(spectrum: Spectrum, threshold: float) -> float | None:
    """Wavenumber below which short stretches are noisier than the threshold, or hold no values."""
    stretches = max(1, len(spectrum) // max(24, len(spectrum) // 60))
    limit = None
    for x, y in zip(
        np.array_split(spectrum.wavenumbers, stretches),
        np.array_split(spectrum.absorbance, stretches),
        strict=True,
    ):
        finite = y[np.isfinite(y)]
        if 2 * finite.size > y.size and not estimate_noise(finite, order=5) > threshold:
            break
        limit = float(x[-1])
    return limit


def _sampling(spectrum: Spectrum, quality: Quality, settings: CheckSettings) -> list[Fault]:
    """Coarse points, and points that are interpolated."""
    if spectrum.step > settings.coarse:
        said = f"points are {spectrum.step:.3g} cm-1 apart, resolution about {quality.resolution:.3g} cm-1"
        remedy = "Measure at 4 cm-1 or better: narrow bands are broadened and their positions less certain."
        return [Fault("resolution-coarse", "warning", "whole range", said, remedy)]
    if quality.zero_filling > 1:
        said = (
            f"{quality.zero_filling} points for each independent value; "
            f"resolution about {quality.resolution:.3g} cm-1"
        )
        remedy = "Nothing to do: neighbouring points are not counted as independent evidence."
        return [Fault("zero-filled", "note", "whole range", said, remedy)]
    return []


def _gases(_: Spectrum, quality: Quality, settings: CheckSettings) -> list[Fault]:
    """Vapour and carbon dioxide."""
    found = []
    named = (
        ("water-vapour", "water vapour", "1400 to 1900 and 3550 to 3900 cm-1", quality.vapour),
        ("carbon-dioxide", "carbon dioxide", "2270 to 2400 cm-1", quality.carbon_dioxide),
    )
    for code, name, where, gas in named:
        if gas is None or abs(gas.strength) < settings.gas or abs(gas.certainty) < 6 or gas.share < 0.1:
            continue
        severity = "note" if code == "carbon-dioxide" and abs(gas.strength) < 0.05 else "warning"
        said = f"{name} with {gas.strength:+.2g} A at its strongest line"
        remedy = "Purge longer and take a fresh background; bands in this range are less certain."
        found.append(Fault(code, severity, where, said, remedy))
    shares = [gas.share for gas in (quality.vapour, quality.carbon_dioxide) if gas is not None]
    if len(shares) == 2 and min(shares) > 0.9 and len(found) == 2:
        said = "nearly all fine structure is that of gases"
        remedy = "Check that the sample was in the beam."
        found.append(Fault("gas-lines-only", "warning", "whole range", said, remedy))
    return found


def _fringed(_: Spectrum, quality: Quality, settings: CheckSettings) -> list[Fault]:
    """Interference in plane films."""
    fringes = quality.fringes
    noise = quality.typical_noise
    if fringes is None or fringes.amplitude < max(settings.fringes, 3.0 * noise) or fringes.share < 0.5:
        return []
    said = (
        f"fringes every {fringes.period:.1f} cm-1, amplitude {fringes.amplitude:.2g} A: thickness "
        "times index "
        f"{fringes.optical_thickness_um:.1f} um"
    )
    remedy = "Roughen or tilt the film, or measure by ATR; fringes can look like broad bands."
    return [Fault("fringes", "warning", "1850 to 2750 cm-1", said, remedy)]


SpectrumCheck = Callable[[Spectrum, Quality, CheckSettings], list[Fault]]

SPECTRUM_CHECKS: tuple[SpectrumCheck, ...] = (
    _contradictory,
    _not_a_spectrum,
    _saturated,
    _quantised,
    _uneven,
    _constant_ends,
    _outside,
    _sampling,
    _noise,
    _gases,
    _fringed,
)
