"""Bands tried in the search, and what each would gain with everything else fitted along."""

from __future__ import annotations

import numpy as np

from spectra.filmfit.model import FilmModel
from spectra.filmfit.posterior import Fit
from spectra.units import FloatArray
from spectra.variation.subspace import project_out

WIDTHS = np.log(np.array([0.8, 1.0, 1.25]))  # widths tried, relative
NEW = -1  # where the bank of bands that are none of the coating's is kept


def bank(model: FilmModel, knot: int) -> FloatArray:
    """Whitened templates of every band at a knot of the amount, shape (b, widths * shifts, r); kept."""
    if model.hard is not None:
        plain = bank(model.hard, knot)
        if model.ground is model.hard.ground:
            return plain
        if knot not in model.banks:
            model.banks[knot] = model.ground.carried(plain.reshape(-1, plain.shape[2])).reshape(plain.shape)
        return model.banks[knot]
    if knot not in model.banks:
        u = len(model.response.unknowns)
        nothing = np.zeros(model.ground.bare.size, dtype=np.complex128)
        rates = np.zeros((u, nothing.size), dtype=np.complex128)
        gain = model.response.linear(model.response.knots[knot], np.zeros(u), nothing, rates).gain
        rows = [
            (gain * model.templates.at(b, shift, wide)).real
            for b in range(len(model.bands))
            for wide in WIDTHS
            for shift in model.shifts
        ]
        white = model.ground.clear(np.array(rows))
        model.banks[knot] = white.reshape(len(model.bands), -1, white.shape[1])
    return model.banks[knot]


def new_bands(model: FilmModel) -> FloatArray:
    """Whitened bumps of height one wherever none of the coating's bands stands, shape (n, r); kept."""
    if NEW not in model.banks and model.hard is not None:
        model.banks[NEW] = model.ground.carried(new_bands(model.hard))
    if NEW not in model.banks:
        points, rows = model.templates.points, []
        for width in model.settings.new_widths:
            for centre in np.arange(points[0] + width, points[-1] - width, width / 3.0):
                away = np.abs(centre - model.bands.positions) > 0.5 * (model.bands.widths + width)
                bump = np.exp(-4.0 * np.log(2.0) * ((points - centre) / width) ** 2)
                if away[model.judged].all() and bump.max() > 0.9:
                    rows.append(bump)
        model.banks[NEW] = model.ground.clear(np.reshape(rows, (len(rows), points.size)))
    return model.banks[NEW]


class Others:
    """All unknowns, or all but one band's, fitted along under their priors (Woodbury)."""

    def __init__(self, fit: Fit, band: int | None) -> None:
        self.fit = fit
        own = [] if band is None else fit.row_of(band)
        self.kept = np.delete(np.arange(len(fit.rows)), own)
        centre, sd = fit.prior
        self.rows, self.sd = fit.rows[self.kept], sd[self.kept]
        self.away = (fit.values - centre)[self.kept]
        self.inner = np.linalg.inv(fit.normal[np.ix_(self.kept, self.kept)] + np.diag(self.sd**-2))
        # The sample without this band, which stands in the residual with its present height.
        self.sample = fit.rest if band is None else fit.rest + fit.state.height[band] * fit.rows[own[1]]
        self.along = self.inner @ (self.rows @ self.sample - self.away / self.sd**2)

    def ask(self, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Products with the sample and squares of templates, the others taken out."""
        inside = rows @ self.rows.T
        products = rows @ self.sample - inside @ self.along
        squares = (rows**2).sum(axis=1) - np.einsum("ij,jk,ik->i", inside, self.inner, inside)
        return np.asarray(products), np.maximum(squares, 1e-9)

    def gain_now(self) -> float:
        """Return what the band gains as it stands, over no band at all."""
        fit, (centre, sd) = self.fit, self.fit.prior
        away = fit.values - centre
        whole = self._least(fit.normal, fit.products, sd, away, fit.rest)
        kept = np.ix_(self.kept, self.kept)
        without = self._least(fit.normal[kept], self.rows @ self.sample, self.sd, self.away, self.sample)
        return without - whole

    @staticmethod
    def _least(
        normal: FloatArray, products: FloatArray, sd: FloatArray, away: FloatArray, rest: FloatArray
    ) -> float:
        """Least -2 log posterior of the linearised fit."""
        slope = products - away / sd**2
        step = np.linalg.solve(normal + np.diag(sd**-2), slope)
        return float(rest @ rest) + float(((away / sd) ** 2).sum()) - float(slope @ step)

    def doubt(self, row: FloatArray) -> float:
        """How much wider than modelled a template's estimate scatters over left-out bare units, squared."""
        ground = self.fit.target.model.ground
        weights = row - (row @ self.rows.T @ self.inner) @ self.rows
        weights = project_out(ground.mean_direction, weights[None])[0]
        squares = (ground.left_out @ weights) ** 2 / max(float(weights @ weights), 1e-300)
        count = len(squares)
        return max(1.0, (count - 1 + float(squares.sum())) / (2 * count - 1) / ground.inflation)
