"""The whole decision on measured fabrics: ``python -m tests.fabrictrial FOLDER [--splits N] [--seed N]``.

FOLDER holds measured replicate spectra (fabric_*.csv of ten spots, protein.csv), which are read and never
stored. Five spots of a fabric are the bare set, the other five the sample. Nothing is added to them, or a
film of the measured protein: unchanged, or with its amide I band moved. What a film adds is computed from
optical constants of protein and fabric, which an inversion written here takes from their mean spectra
(single reflection from index 2.4 at 45 degrees, full contact): it uses nothing of ``spectra``.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from spectra.findings import CANNOT_TELL, CHANGED, PRESENT, UNCHANGED
from spectra.spectrum import Stack
from spectra.verification.result import SampleFinding
from tests.fatetrial import first_named
from tests.films import moved
from tests.scenes import BACKGROUND, GRID, kramers_kronig, reflection_absorbance
from tests.studyspeed import decide_all, study
from tests.trials import Tally, read_fabrics

FILMS_NM = (30.0, 100.0, 200.0)
MOVES = (0.0, 12.0, -12.0, 22.0, -22.0)  # cm-1, of amide I
AMIDE_I = (1590.0, 1720.0)  # cm-1: valleys to either side of the band, common practice, no source
RAMP = 10.0  # cm-1 over which the band fades out at the valleys
ROUNDS, SETTLED = 60, 2e-4  # absorbance: of the inversion, far below the band heights
SPOTS = 10


@dataclass(frozen=True, eq=False)
class Fabrics:
    """Measured spectra on one grid, and what is needed to put films on them."""

    grid: np.ndarray
    fabrics: list[np.ndarray]
    protein: np.ndarray
    usable: np.ndarray
    film: np.ndarray
    band: np.ndarray
    beds: list[np.ndarray]

    def change(self, fabric: int, nm: float, by: float) -> np.ndarray:
        """What a film adds to the spectrum of a fabric, amide I moved by so many cm-1."""
        film = self.film + moved(self.band, by) - self.band
        bed = self.beds[fabric]
        return np.interp(self.grid, GRID, reflection_absorbance(bed, film, nm) - reflection_absorbance(bed))


def read(folder: Path) -> Fabrics:
    """Read the spectra and invert their means."""
    grid, fabrics, protein, usable = read_fabrics(folder)
    table = np.genfromtxt(folder / "protein.csv", delimiter=",", skip_header=1)[::-1]
    repeats = np.array([np.interp(grid, table[:, 0], row) for row in table[:, 1:].T])
    film = constants(np.interp(GRID, grid, protein))
    low, high = (np.clip(0.5 + (GRID - end) / RAMP, 0.0, 1.0) for end in AMIDE_I)
    imag = (film.imag * (low - high))[None]
    band = (kramers_kronig(imag) + 1j * imag)[0]
    beds = [constants(np.interp(GRID, grid, rows.mean(axis=0))) for rows in fabrics]
    return Fabrics(grid, fabrics, repeats, usable, film, band, beds)


def constants(absorbance: np.ndarray) -> np.ndarray:
    """Dielectric function that gives this spectrum, its lowest value taken as the zero line.

    Im eps is multiplied by measured over computed absorbance until they agree; Re eps is its partner.
    """
    wanted = np.maximum(absorbance - np.quantile(absorbance, 0.01), 1e-5)
    imag = 4.0 * wanted
    for _ in range(ROUNDS):
        eps = BACKGROUND + kramers_kronig(imag[None])[0] + 1j * imag
        found = reflection_absorbance(eps)
        imag = imag * np.clip(wanted / np.maximum(found, 1e-7), 0.5, 2.0) ** 0.7
    if np.abs(found - wanted).max() > SETTLED:
        raise ValueError(f"constants not found: {np.abs(found - wanted).max():.2g} A left")
    return eps


def decided(
    data: Fabrics, fabric: int, other: int, rng: np.random.Generator
) -> Iterator[tuple[str, SampleFinding]]:
    """Decide one split of one fabric: nothing added, films, another fabric as the sample."""
    order = rng.permutation(SPOTS)
    bare, sample = data.fabrics[fabric][order[: SPOTS // 2]], data.fabrics[fabric][order[SPOTS // 2 :]]
    samples = {"nothing": sample, "other fabric": data.fabrics[other][order[: SPOTS // 2]]}
    for nm in FILMS_NM:
        for by in MOVES:
            samples[f"{nm:g} nm, amide I {by:+g}"] = sample + data.change(fabric, nm, by)
    coated = {name: _stack(data, rows) for name, rows in samples.items()}
    findings = decide_all(study(list(coated)), _stack(data, bare), _stack(data, data.protein), coated)
    yield from zip(coated, findings, strict=True)


def _stack(data: Fabrics, rows: np.ndarray) -> Stack:
    names = tuple(f"spot {i}" for i in range(len(rows)))
    return Stack(data.grid, rows, names, names, data.usable)


def count(tally: Tally, name: str, finding: SampleFinding) -> dict[str, object]:
    """Enter one sample; return it as plain data."""
    film = finding.coatings["film"]
    presence, chemistry, first = film.presence, film.chemistry, first_named(film.chemistry)
    named = first is not None and AMIDE_I[0] < first < AMIDE_I[1]
    tally.add(f"{name}: present", presence.verdict == PRESENT)
    tally.add(f"{name}: cannot tell", presence.verdict == CANNOT_TELL)
    tally.add(f"{name}: called unchanged", chemistry.verdict == UNCHANGED)
    tally.add(f"{name}: called changed", chemistry.verdict == CHANGED)
    tally.add(f"{name}: any unexplained band", bool(finding.unexplained))
    if "nm" in name:
        nm, low, high = float(name.split()[0]), presence.thickness_low_nm, presence.thickness_high_nm
        tally.add(
            f"{name}: thickness interval holds", low is not None and high is not None and low <= nm <= high
        )
        if presence.thickness_nm is not None:
            tally.note(f"{name}: thickness over truth", presence.thickness_nm / nm)
        if not name.endswith("+0"):
            tally.add(f"{name}: amide I named first", named)
    return {
        "sample": name,
        "presence": presence.verdict,
        "chemistry": chemistry.verdict,
        "reasons": [[r.code, r.values.get("position")] for r in chemistry.reasons],
        "presence_reasons": [r.code for r in presence.reasons],
        "found_nm": [presence.thickness_nm, presence.thickness_low_nm, presence.thickness_high_nm],
        "unexplained": [u.position for u in finding.unexplained],
    }


WHAT = (
    "present", "cannot tell", "called unchanged", "called changed", "amide I named first",
    "any unexplained band", "thickness interval holds",
)  # fmt: skip


def _table(tally: Tally, splits: int) -> Iterator[str]:
    """One line a kind of sample: how often each thing happened."""
    kinds = dict.fromkeys(row.rsplit(": ", 1)[0] for row in tally.counts)
    yield f"of {splits}: " + ", ".join(WHAT) + "; median thickness over truth"
    for name in kinds:
        counts = [tally.counts.get(f"{name}: {what}") for what in WHAT]
        ratio = tally.values.get(f"{name}: thickness over truth")
        cells = " ".join("   -" if c is None else f"{c[0]:4d}" for c in counts)
        yield f"{name:24s} {cells}  " + ("" if ratio is None else f"{np.median(ratio):.2f}")


def main() -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path)
    parser.add_argument("--splits", type=int, default=12, help="studies; fabrics take turns")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--record", type=Path, help="verdicts only, one line of JSON a sample")
    asked = parser.parse_args()
    data, tally, lines = read(asked.folder), Tally(), []
    for split in range(asked.splits):
        rng = np.random.default_rng([asked.seed, split])
        fabric = split % len(data.fabrics)
        other = (fabric + 1 + int(rng.integers(len(data.fabrics) - 1))) % len(data.fabrics)
        for name, finding in decided(data, fabric, other, rng):
            lines.append(json.dumps({"split": split, "fabric": fabric} | count(tally, name, finding)))
    if asked.record:
        asked.record.write_text("\n".join(lines) + "\n", encoding="utf-8")
    print("\n".join(_table(tally, asked.splits)))


if __name__ == "__main__":
    main()
