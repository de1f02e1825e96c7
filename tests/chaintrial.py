"""The whole chain on spectra with known truth: ``python -m tests.chaintrial [REPEATS] [SEED]``.

Bare, neat and coated spectra come from ``tests.scenes``, whose optics are its own; the neat spectrum is a
bulk pressed on the crystal, so that every expected position has to be predicted. Counted for films of 10 to
200 nm: the verdicts on presence and chemistry when nothing changed and when the coating's bands moved by
12 cm-1, the substrate's own verdict, unexplained bands, and whether the thickness interval holds the truth.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np

from spectra.findings import CANNOT_TELL, CHANGED, PRESENT, UNCHANGED
from spectra.verification.result import SampleFinding
from tests.classical import neat_spots
from tests.scenes import PAIRS, Scene, spots
from tests.studyspeed import decide, stack
from tests.trials import Tally

THICKNESSES_NM = (10.0, 50.0, 200.0)
MOVED = 12.0  # cm-1
BARE, COATED = 6, 4


def run(scene: Scene, rng: np.random.Generator, nm: float, by: float) -> SampleFinding:
    """Decide one study."""
    bare, neat = stack(spots(scene, rng, BARE)), stack(neat_spots(scene, rng))
    return decide(bare, neat, stack(spots(scene, rng, COATED, nm, moved=by)))


def count(tally: Tally, finding: SampleFinding, nm: float, by: float) -> None:
    """Enter one study."""
    film = finding.coatings["film"]
    what = "moved" if by else "unchanged"
    for verdict in (UNCHANGED, CHANGED, CANNOT_TELL):
        tally.add(f"{what} coating, {nm:g} nm: chemistry {verdict}", film.chemistry.verdict == verdict)
    tally.add(f"{what} coating, {nm:g} nm: present", film.presence.verdict == PRESENT)
    tally.add(
        f"{what} coating, {nm:g} nm: substrate called changed", finding.substrate.chemistry.verdict == CHANGED
    )
    if by:
        return
    tally.add("unchanged coating: any unexplained band", bool(finding.unexplained))
    low, high = film.presence.thickness_low_nm, film.presence.thickness_high_nm
    if low is not None and high is not None:
        tally.add("thickness interval holds the truth", low <= nm <= high)
    for band in film.bands:
        if band.shift_low is not None and band.shift_high is not None:
            tally.add("shift interval holds zero, band by band", band.shift_low <= 0.0 <= band.shift_high)


def main(repeats: int = 10, seed: int = 1) -> None:
    """Print the counts with exact 95 % intervals."""
    rng, tally = np.random.default_rng(seed), Tally()
    for coating, substrate in PAIRS.values():
        scene = replace(Scene(coating, substrate), composition=0.03)
        for nm in THICKNESSES_NM:
            for by in (0.0, MOVED):
                for _ in range(repeats):
                    count(tally, run(scene, rng, nm, by), nm, by)
    print("\n".join(sorted(tally.lines())))


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
