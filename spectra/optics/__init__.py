"""Optics: the same chemistry moves, so predict where it must be.

In: neat and bare spectra and how they were measured. Out: n + ik, and what a film must look like.

A strong band of a bulk ATR spectrum lies to the red of the same band in a thin film, by up to 15 cm-1, and
nothing chemical has happened. Modules, each using only those before it: ``geometry`` (crystal, angle),
``depth`` (closed formulas), ``fresnel`` (exact layers), ``atr`` (ATR spectra), ``kramers_kronig`` (n from
k), ``newton`` and ``contact`` (the equations), ``material``, ``refractive_indices`` and ``inversion``
(spectrum to n + ik), ``film`` (coated spectra), ``tracking``, ``uncertainty`` and ``tracking_paths``
(bands, and what is unknown), ``expected`` (what unchanged chemistry gives), ``film_response`` and ``shape``
(what is looked for), ``prediction`` (all of it for a study), ``display``.

Examples
--------
>>> import numpy as np
>>> from spectra.optics.expected import expected
>>> from spectra.optics.geometry import Geometry
>>> from spectra.optics.inversion import invert_atr
>>> grid = np.arange(1000.0, 2000.0, 2.0)
>>> geometry = Geometry(crystal="diamond", angle_deg=45.0)
>>> neat = invert_atr(grid, 0.30 / (1.0 + ((grid - 1700.0) / 12.0) ** 2), geometry, contact=(0.85, 1.0))
>>> bare = invert_atr(grid, 0.08 / (1.0 + ((grid - 1200.0) / 10.0) ** 2), geometry, contact=(0.5, 1.0))
>>> answer = expected(neat, bare, geometry, positions=[1700.0], widths=[24.0], thicknesses_nm=[20.0, 500.0])
>>> answer.shifts.ravel().round(1)  # thin film, 20 nm, 500 nm
array([3.8, 3.8, 2.4])
"""
