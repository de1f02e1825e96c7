"""Settings of this stage: each number with unit, range and reason."""

from __future__ import annotations

from dataclasses import dataclass, field

from spectra.apart.settings import ApartSettings
from spectra.assignment.settings import MaterialSettings, SuggestionSettings
from spectra.chemistry.settings import FateSettings
from spectra.comparison.settings import ComparisonSettings
from spectra.decision import DecisionSettings
from spectra.detection.settings import PlanSettings, PresenceSettings, SpikeSettings
from spectra.filmfit.settings import FilmFitSettings
from spectra.optics.settings import InversionSettings, PredictionSettings
from spectra.peaks.settings import PeakSettings
from spectra.preprocessing.settings import BaselineSettings, FootingSettings, NormalisationSettings
from spectra.quality.settings import CheckSettings
from spectra.residues.settings import ResidueSettings
from spectra.settings import require_in_range
from spectra.variation.settings import VariationSettings


@dataclass(frozen=True)
class Settings:
    """Every number of the chain; one record a stage, each field with unit, range and reason."""

    decision: DecisionSettings = field(default_factory=DecisionSettings)
    checks: CheckSettings = field(default_factory=CheckSettings)
    footing: FootingSettings = field(default_factory=FootingSettings)
    baseline: BaselineSettings = field(default_factory=BaselineSettings)
    normalisation: NormalisationSettings = field(default_factory=NormalisationSettings)
    peaks: PeakSettings = field(default_factory=PeakSettings)
    residues: ResidueSettings = field(default_factory=ResidueSettings)
    prediction: PredictionSettings = field(default_factory=PredictionSettings)
    inversion: InversionSettings = field(default_factory=InversionSettings)
    filmfit: FilmFitSettings = field(default_factory=FilmFitSettings)
    chemistry: FateSettings = field(default_factory=FateSettings)
    variation: VariationSettings = field(default_factory=VariationSettings)
    presence: PresenceSettings = field(default_factory=PresenceSettings)
    spikes: SpikeSettings = field(default_factory=SpikeSettings)
    plan: PlanSettings = field(default_factory=PlanSettings)
    suggestions: SuggestionSettings = field(default_factory=SuggestionSettings)
    materials: MaterialSettings = field(default_factory=MaterialSettings)
    apart: ApartSettings = field(default_factory=ApartSettings)
    comparison: ComparisonSettings = field(default_factory=ComparisonSettings)

    def __post_init__(self) -> None:
        require_in_range(self)
