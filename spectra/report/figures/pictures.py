"""The figures of a report, each with its name, its caption, the finding it shows, and its data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from spectra.report.figures.comparison import comparison_data, draw_comparison
from spectra.report.figures.differences import scatter_of, shares
from spectra.report.figures.key import draw_key, named_bands
from spectra.report.figures.overlay import overlay_figure
from spectra.report.figures.positions import position_figure
from spectra.report.figures.settings import FigureSettings
from spectra.report.figures.traces import traces
from spectra.report.words.alternatives import (
    band_alternative,
    differences_alternative,
    key_alternative,
    overlay_alternative,
)
from spectra.report.words.captions import AGAIN, CAPTIONS
from spectra.report.words.signs import file_name
from spectra.spectrum import Stack
from spectra.verification.result import SampleFinding, Verification

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure


@dataclass(frozen=True, eq=False)
class Picture:
    """A figure of the report.

    Attributes
    ----------
    name
        Of its files, without ending.
    sample
        The sample it is about; empty for all.
    figure
    caption
    again
        A shorter caption, for a report that has explained a figure of this kind before.
    alternative
        What it shows, in words: read out in its place.
    data : DataFrame
        The numbers drawn, units in the heads.
    """

    name: str
    sample: str
    figure: Figure
    caption: str
    alternative: str
    data: pd.DataFrame
    again: str = ""


def pictures(verification: Verification, settings: FigureSettings | None = None) -> tuple[Picture, ...]:
    """Return every figure of the report: key figure, overlay, samples side by side, then each sample's."""
    settings = settings or FigureSettings()
    drawn = [key_picture(verification, settings), overlay_picture(verification, settings)]
    drawn += _beside(verification, settings)
    for number, sample in enumerate(verification.samples.values(), start=1):
        drawn += _of_sample(verification, sample, number, settings)
    return tuple(drawn)


def key_picture(verification: Verification, settings: FigureSettings, name: str = "key") -> Picture:
    """Return the key figure of all samples, or of those the settings choose."""
    chosen = settings.samples or tuple(verification.samples)
    return Picture(
        name,
        chosen[0] if len(settings.samples) == 1 else "",
        draw_key(verification, settings),
        CAPTIONS["key"],
        key_alternative([verification.samples[sample] for sample in chosen]),
        _key_data(verification, chosen),
    )


def overlay_picture(verification: Verification, settings: FigureSettings) -> Picture:
    """Return the overlay of the report."""
    stacks = verification.stages.levelled
    figure = overlay_figure(stacks, settings, named_bands(verification))
    names = [name for role, name in stacks if role == "coated"]
    return Picture(
        "overlay",
        "",
        figure,
        CAPTIONS["overlay"],
        overlay_alternative(names),
        _overlay_data(verification, names),
    )


def _beside(verification: Verification, settings: FigureSettings) -> Iterator[Picture]:
    """Yield amounts and differences of all samples, where two were compared."""
    figure = draw_comparison(verification, settings)
    if figure is not None:
        said = differences_alternative(verification)
        yield Picture("differences", "", figure, CAPTIONS["differences"], said, comparison_data(verification))


def told_once(drawn: Sequence[Picture]) -> tuple[Picture, ...]:
    """Return figures with the shorter caption wherever the longer one stands at a figure before."""
    seen: set[str] = set()
    told = []
    for picture in drawn:
        known = picture.caption in seen and picture.again
        told.append(replace(picture, caption=picture.again) if known else picture)
        seen.add(picture.caption)
    return tuple(told)


def _of_sample(
    verification: Verification, sample: SampleFinding, number: int, settings: FigureSettings
) -> Iterator[Picture]:
    """Yield the figures of one sample; its files are numbered, since a name may hold any letter."""
    called = f"{number:02d}_{file_name(sample.name)}"
    if len(verification.samples) > 1:
        alone = key_picture(verification, replace(settings, samples=(sample.name,)), f"key_{called}")
        yield replace(alone, again=AGAIN["key"])
    bare, neat = _references(verification)
    for coating in sample.coatings.values():
        single = replace(sample, coatings={coating.name: coating})
        expected = (shares(single, neat) or [np.zeros(bare.grid.size)])[0]
        figure = position_figure(sample, coating, bare, expected, settings)
        if figure is not None:
            yield Picture(
                f"bands_{called}_{file_name(coating.name)}",
                sample.name,
                figure,
                CAPTIONS["positions"],
                band_alternative(sample, coating),
                _comparison_data(verification, [sample.name]),
                AGAIN["positions"],
            )


def _references(verification: Verification) -> tuple[Stack, dict[str, Stack]]:
    """Return the levelled bare spots, and the neat ones by coating."""
    stacks = verification.stages.levelled
    neat = {name: stack for (role, name), stack in stacks.items() if role == "neat"}
    return stacks["bare", verification.study.substrate.name], neat


def _overlay_data(verification: Verification, samples: Sequence[str]) -> pd.DataFrame:
    """Return mean and standard deviation of every line drawn, as they are before scaling and shifting."""
    import pandas as pd

    lines = traces(verification.stages.levelled, samples)
    columns: dict[str, object] = {"wavenumber / cm-1": lines[0].stack.grid}
    for line in lines:
        rows = np.where(line.stack.usable, line.stack.absorbance, np.nan)
        called = "bare" if line.role == "bare" else f"{line.role} {line.name}"
        columns[f"{called}, mean / absorbance"] = rows.mean(axis=0)
        if len(rows) > 1:
            columns[f"{called}, SD / absorbance"] = rows.std(axis=0, ddof=1)
    return _known_rows(pd.DataFrame(columns))


def _comparison_data(verification: Verification, samples: Sequence[str]) -> pd.DataFrame:
    """Return what panel (b) draws."""
    import pandas as pd

    bare, neat = _references(verification)
    columns: dict[str, object] = {
        "wavenumber / cm-1": bare.grid,
        "bare, 2 SD / absorbance": np.where(bare.usable, scatter_of(bare), np.nan),
    }
    for name in samples:
        sample = verification.samples[name]
        columns[f"{name}, coated minus bare / absorbance"] = np.where(bare.usable, sample.difference, np.nan)
        for coating, share in zip(sample.coatings, shares(sample, neat), strict=False):
            columns[f"{name}, {coating} computed / absorbance"] = np.where(bare.usable, share, np.nan)
    return _known_rows(pd.DataFrame(columns))


def _key_data(verification: Verification, samples: Sequence[str]) -> pd.DataFrame:
    """Return what panels (a) and (b) draw; the amounts of panel (c) are in ``amounts.csv``."""
    first = _overlay_data(verification, samples)
    return first.merge(_comparison_data(verification, samples), on="wavenumber / cm-1", how="outer")


def _known_rows(table: pd.DataFrame) -> pd.DataFrame:
    """Leave out wavenumbers that the study leaves out; round to what a spectrum can hold."""
    known = table.dropna(how="all", subset=list(table.columns[1:])).round(7)
    return known.reset_index(drop=True)
