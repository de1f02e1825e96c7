"""How a figure is to look: size, region, samples, labels. Nothing here decides anything."""

from __future__ import annotations

from dataclasses import dataclass

from spectra.settings import require_in_range, setting

# What may stand at a band: its assignment, its wavenumber, both or nothing.
LABELS = ("both", "assignment", "position", "none")


@dataclass(frozen=True)
class FigureSettings:
    """Choices about a figure; every length on paper."""

    width: float = setting(178.0, "two columns of most journals; one is 85 mm", unit="mm", low=60, high=250)
    region: tuple[float, ...] = setting(
        (), "the stretch to draw; empty for all that is used", unit="cm-1", low=200, high=12000
    )
    labels: str = setting("both", "what stands at a band", choices=LABELS)
    samples: tuple[str, ...] = setting((), "the samples to draw, in this order; empty for all")
    offset: float = setting(
        1.05,
        "distance of one line from the next, in heights of the highest; 0 puts all on one",
        low=0,
        high=5,
    )
    decimal: str = setting(".", "the decimal sign of the language", choices=(".", ","))

    def __post_init__(self) -> None:
        require_in_range(self)

    @property
    def narrow(self) -> bool:
        """Whether panels stand below one another instead of beside."""
        return self.width < 120.0
