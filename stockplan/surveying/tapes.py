"""Tapes between corners adjusted by least squares, and the one that was misread found.

Notation of the Gauss-Markov model: observations l with weights P = diag(1/σ²), unknown coordinates x, design matrix A
of the tapes' directions, normal matrix N = AᵀPA. Gauss-Newton steps dx = N⁻¹AᵀP(l − f(x)) are taken until they vanish.
Residuals v = f(x) − l have cofactors Qvv = P⁻¹ − AN⁻¹Aᵀ; r = Qvv·P on the diagonal is a tape's redundancy number,
between 0 (nothing checks it) and 1, and w = v/√Qvv its standardized residual: Baarda's data snooping, critical at 3.29
(one sound tape in a thousand). Three coordinates are held: the first corner, and the direction of the second from it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockplan.domain.survey import SurveySettings

CRITICAL = 3.29
UNCHECKED = 1e-6  # a redundancy number below this is none
MOST_STEPS = 60
SETTLED_MM = 1e-4

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Tape:
    """One tape between two corners.

    Parameters
    ----------
    one, other
        Numbers of the corners, from 0; not the same.
    length_mm
        As read; positive.
    line
        Where it stands in the notes; 0 when it stands in none.
    """

    one: int
    other: int
    length_mm: float
    line: int = 0


@dataclass(frozen=True, slots=True)
class Adjusted:
    """Tapes adjusted.

    Parameters
    ----------
    corners
        One row a corner, mm.
    residuals
        Adjusted minus read, mm, one a tape.
    redundancy
        How far each tape is checked by the others, 0 to 1.
    standardized
        Residual over its standard error; 0 where nothing checks the tape.
    misfit
        Weighted sum of squared residuals.
    """

    corners: Floats
    residuals: Floats
    redundancy: Floats
    standardized: Floats
    misfit: float

    @property
    def fits(self) -> bool:
        """Whether no tape stands out."""
        return bool(np.all(np.abs(self.standardized) <= CRITICAL))


def adjust(start: Floats, tapes: Sequence[Tape], settings: SurveySettings) -> Adjusted | None:
    """Adjust tapes from a rough shape.

    Parameters
    ----------
    start
        Rough corners, one row each, mm; the first two apart.
    tapes
        At least as many as there are unknown coordinates, 2n − 3.
    settings
        Standard errors.

    Returns
    -------
    Adjusted or None
        None when the tapes leave some corner loose, or the steps do not settle.
    """
    corners = _turned_to_axis(start)
    free = np.delete(np.arange(2 * len(corners)), [0, 1, 3])
    read = np.array([tape.length_mm for tape in tapes])
    weights = np.array([settings.tape_sigma_mm(tape.length_mm) for tape in tapes]) ** -2
    misfit = _misfit(corners, tapes, read, weights)
    for _ in range(MOST_STEPS):
        design = _design(corners, tapes)[:, free]
        normal = design.T @ (weights[:, None] * design)
        if np.linalg.matrix_rank(normal, hermitian=True) < len(free):
            return None
        missing = read - _lengths(corners, tapes)
        step = np.zeros(2 * len(corners))
        step[free] = np.linalg.solve(normal, design.T @ (weights * missing))
        moved, better = _shortened(corners, step.reshape(-1, 2), tapes, read, weights, misfit)
        settled = bool(np.max(np.abs(moved - corners)) < SETTLED_MM)
        corners, misfit = moved, better
        if settled:
            return _judged(corners, tapes, read, weights, free, misfit)
    return None


def _shortened(
    corners: Floats, step: Floats, tapes: Sequence[Tape], read: Floats, weights: Floats, misfit: float
) -> tuple[Floats, float]:
    """Halve a step until it makes the fit no worse; from a poor start a whole one may overshoot."""
    share = 1.0
    while share > 1e-4:
        moved = corners + share * step
        found = _misfit(moved, tapes, read, weights)
        if found <= misfit + 1e-12:
            return moved, found
        share /= 2
    return corners, misfit


def _judged(
    corners: Floats, tapes: Sequence[Tape], read: Floats, weights: Floats, free: NDArray[np.intp], misfit: float
) -> Adjusted:
    design = _design(corners, tapes)[:, free]
    inverse = np.linalg.inv(design.T @ (weights[:, None] * design))
    cofactors = 1 / weights - np.einsum("ij,jk,ik->i", design, inverse, design)
    redundancy = np.clip(cofactors * weights, 0.0, 1.0)
    residuals = _lengths(corners, tapes) - read
    checked = redundancy > UNCHECKED
    standardized = np.zeros(len(read))
    standardized[checked] = residuals[checked] / np.sqrt(cofactors[checked])
    return Adjusted(corners, residuals, np.where(checked, redundancy, 0.0), standardized, misfit)


def _turned_to_axis(start: Floats) -> Floats:
    """Move the first corner to (0, 0) and turn the second onto the x axis."""
    moved = start - start[0]
    angle = np.arctan2(moved[1, 1], moved[1, 0])
    cosine, sine = np.cos(angle), np.sin(angle)
    turned: Floats = moved @ np.array([[cosine, -sine], [sine, cosine]])
    turned[1, 1] = 0.0
    return turned


def _lengths(corners: Floats, tapes: Sequence[Tape]) -> Floats:
    between = corners[[tape.other for tape in tapes]] - corners[[tape.one for tape in tapes]]
    return np.hypot(between[:, 0], between[:, 1])


def _misfit(corners: Floats, tapes: Sequence[Tape], read: Floats, weights: Floats) -> float:
    return float(np.sum(weights * (_lengths(corners, tapes) - read) ** 2))


def _design(corners: Floats, tapes: Sequence[Tape]) -> Floats:
    """Derivatives of the tapes by the coordinates: the unit vectors along them."""
    number = np.arange(len(tapes))
    one, other = np.array([tape.one for tape in tapes]), np.array([tape.other for tape in tapes])
    between = corners[other] - corners[one]
    along = between / np.maximum(np.hypot(between[:, 0], between[:, 1]), 1e-9)[:, None]
    rows = np.zeros((len(tapes), len(corners), 2))
    rows[number, other] = along
    rows[number, one] = -along
    return rows.reshape(len(tapes), -1)
