"""What a figure shows, said in words: read out in its place. Part of ``report.view``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from spectra.report.words.numerals import listed, wavenumber, with_interval
from spectra.verification.result import CoatingFinding, SampleFinding, Verification


def key_alternative(samples: Sequence[SampleFinding]) -> str:
    """Say what the key figure shows of each sample."""
    found = [word for sample in samples for word in _findings(sample)]
    return f"Spectra, deciding region and amounts. {' '.join(found)}"


def _findings(sample: SampleFinding) -> Iterator[str]:
    for coating in sample.coatings.values():
        presence = coating.presence
        much = ""
        if presence.amount is not None:
            share = [
                None if value is None else 100.0 * value
                for value in (presence.amount, presence.amount_low, presence.amount_high)
            ]
            much = f", amount {with_interval(share[0], share[1], share[2], '%')}"
        chemistry = coating.chemistry.verdict
        yield f"{sample.name}: {coating.name} {presence.verdict}{much}; chemistry {chemistry}."


def differences_alternative(verification: Verification) -> str:
    """Say what every difference of two samples is."""
    said = []
    for item in verification.comparisons:
        found = item.found
        low, high = (None if end is None else 100.0 * end for end in (found.low, found.high))
        size = with_interval(100.0 * found.difference, low, high, "%")
        said.append(f"{' minus '.join(found.samples)}, {item.coating}: {size}.")
    return f"Amounts and differences of the samples. {' '.join(said)}"


def overlay_alternative(names: Sequence[str]) -> str:
    """Say what the overlay shows."""
    return f"Overlay of the neat coating, the samples {listed(names)} and the bare substrate."


def band_alternative(sample: SampleFinding, coating: CoatingFinding) -> str:
    """Say where each band of a coating was found."""
    said = [
        f"{wavenumber(band.expected_position)}: "
        + ("not found" if band.found_position is None else f"found at {wavenumber(band.found_position)}")
        for band in coating.bands
        if not band.masked
    ]
    return f"{sample.name}, bands of {coating.name} by expected position. {'; '.join(said)}."
