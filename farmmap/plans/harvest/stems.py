"""The shape of stems: how thick they are at any height, and the volume of any piece of them.

A stem is Kunze's solid, whose diameter falls from the ground to the tip as a
power of the distance from the tip,

    d(z) = √s·D·((H - z)/(H - b))^(r/2),

with D the diameter at breast height b and H the height; r = 1 is a paraboloid,
2 a cone, 3 a neiloid. r is chosen so that the whole stem has just the volume
that the species' form factor, equation or table gives, so pieces always add up
to it. Where no r does (low trees, whose breast height is near the tip), s
shrinks or widens the stem instead; else s is 1. The flare of the butt is not in
it: the lowest metre is thicker in truth.

Source: M. F. Kunze (1873), Lehrbuch der Holzmesskunst (from memory); that
taper and volume should agree: J. P. Demaerschalk (1972), Converting volume
equations to compatible taper equations, Forest Science 18, 241 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.stand import basal_area_m2

Floats = NDArray[np.float64]

LEAST_SHAPE, MOST_SHAPE = 0.2, 4.0
"""Exponent r: a stem is not quite a cylinder, and hardly thinner above than a neiloid."""
_STEPS = 9
"""Newton's steps for r; the last changes it by far less than a millionth."""
_FLATTEST = 1e-3


@dataclass(frozen=True, eq=False)
class Stems:
    """Single stems. All arrays have shape (n,); nan where the volume is not known.

    Attributes
    ----------
    dbh_cm : ndarray
        Diameter at breast height, over bark. [cm]
    height_m : ndarray
        Height. [m]
    volume_m3 : ndarray
        The whole stem from the ground to the tip, over bark. [m³]
    breast_m : float
        Breast height. [m]
    bark_ratio : ndarray
        Diameter under bark ÷ over bark, taken as the same along the stem.
    """

    dbh_cm: Floats
    height_m: Floats
    volume_m3: Floats
    breast_m: float
    bark_ratio: Floats

    @cached_property
    def shape(self) -> Floats:
        """Exponent r of each stem."""
        return _shapes(self._above, self.form)

    @cached_property
    def form(self) -> Floats:
        """Breast-height form factor of each stem."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return self.volume_m3 / (basal_area_m2(self.dbh_cm) * self.height_m)

    @cached_property
    def _above(self) -> Floats:
        """Height over its part above breast height, H/(H - b), at least 1."""
        above = np.maximum(self.height_m - self.breast_m, 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            return self.height_m / above

    @cached_property
    def base_cm(self) -> Floats:
        """Diameter of the solid at the ground, over bark, in cm."""
        with np.errstate(divide="ignore", invalid="ignore"):
            area = self.volume_m3 * (self.shape + 1.0) / self.height_m
        return np.sqrt(area * (40_000.0 / np.pi))

    def part(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Stems:
        """Return some of the stems."""
        out = Stems(self.dbh_cm[rows], self.height_m[rows], self.volume_m3[rows], self.breast_m, self.bark_ratio[rows])
        out.__dict__.update(shape=self.shape[rows], base_cm=self.base_cm[rows])
        return out

    def diameter_cm(self, at_m: Floats | float) -> Floats:
        """Diameter over bark at a height above ground; 0 at and above the tip, in cm."""
        with np.errstate(divide="ignore", invalid="ignore"):
            left = np.clip(1.0 - np.asarray(at_m, float) / self.height_m, 0.0, 1.0)
        return self.base_cm * left ** (self.shape / 2.0)

    def height_of_cm(self, diameter_cm: Floats | float) -> Floats:
        """Height above ground up to which the stem is at least so thick over bark; 0 where it nowhere is, in m."""
        with np.errstate(divide="ignore", invalid="ignore"):
            left = (np.asarray(diameter_cm, float) / self.base_cm) ** (2.0 / self.shape)
        return self.height_m * np.clip(1.0 - left, 0.0, 1.0)

    def piece_m3(self, low_m: Floats | float, high_m: Floats | float) -> Floats:
        """Volume over bark between two heights above ground, in m³."""
        power = self.shape + 1.0
        with np.errstate(divide="ignore", invalid="ignore"):
            low, high = (np.clip(1.0 - np.asarray(z, float) / self.height_m, 0.0, 1.0) for z in (low_m, high_m))
        return self.volume_m3 * np.maximum(low**power - high**power, 0.0)


def _shapes(above: Floats, form: Floats) -> Floats:
    """Solve r·ln(above) - ln(r + 1) = ln(form) for r by Newton's steps, where the left side falls with r.

    It is convex, so the steps from the left never overshoot; where there is no
    such r the nearest end of the span is taken.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        steep, wanted = np.log(above), np.log(form)
        most = np.where(steep > 0, np.clip(1.0 / steep - 1.0, LEAST_SHAPE, MOST_SHAPE), LEAST_SHAPE)
        shape = np.full(len(form), LEAST_SHAPE)
        for _ in range(_STEPS):
            slope = np.minimum(steep - 1.0 / (shape + 1.0), -_FLATTEST)
            shape = np.clip(shape - (shape * steep - np.log1p(shape) - wanted) / slope, LEAST_SHAPE, most)
    return np.where(np.isfinite(wanted), np.where(np.isfinite(shape), shape, LEAST_SHAPE), np.nan)
