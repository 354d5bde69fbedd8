"""Round scales, scale bars and grid ticks."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from farmmap.scene.view import Bounds, Floats

SERIES = (1.0, 2.0, 2.5, 5.0)
"""Scale denominators are one of these times a power of ten."""

STEPS = (1.0, 2.0, 5.0)
"""Lengths and distances that people count in, times a power of ten."""

LEAST_SCALE, MOST_SCALE = 100, 1_000_000
"""Scales 1:N that a page may be asked for."""

SMALL_M, SMALL_SCALE = 20.0, 500
"""Ground of less than this many metres is shown no closer than at 1:500, so that one crown does not fill a page."""

BAR_MM = (40.0, 80.0)
"""Usual length of a scale bar in print. [mm]"""


def round_scale(denominator: float) -> int:
    """Return the next round scale denominator that is not smaller, so that what must fit does.

    Parameters
    ----------
    denominator : float
        The scale 1:N that would just do, more than 0.
    """
    power = 10.0 ** math.floor(math.log10(denominator))
    for factor in (power, 10 * power):
        for step in SERIES:
            found = max(round(step * factor), 1)  # 2.5 itself is no whole number, so 5 comes after 2
            if min(found, step * factor) >= denominator * (1 - 1e-9):
                return found
    return round(100 * power)  # pragma: no cover - 10 times the power is always enough


def fitting_scale(bounds: Bounds, width_mm: float, height_mm: float) -> int:
    """Return the largest round scale at which ground fits into a rectangle of paper.

    Never closer than 1:100, and for a few metres of ground never closer than 1:500.

    Parameters
    ----------
    bounds : tuple of float
        The ground. [m]
    width_mm, height_mm : float
        The paper. [mm]
    """
    west, south, east, north = bounds
    closest = SMALL_SCALE if max(east - west, north - south) < SMALL_M else LEAST_SCALE
    return round_scale(max((east - west) / width_mm * 1000, (north - south) / height_mm * 1000, float(closest)))


@dataclass(frozen=True)
class ScaleBar:
    """A scale bar.

    Attributes
    ----------
    step_m : float
        Ground length of one division. [m]
    divisions : int
        How many there are.
    step_mm : float
        Length of one on the picture. [mm]
    """

    step_m: float
    divisions: int
    step_mm: float

    @property
    def length_mm(self) -> float:
        """Length of the whole bar. [mm]."""
        return self.step_mm * self.divisions

    def words(self, place: int) -> str:
        """Return what is written at the end of a division, counted from 0; the last names the unit."""
        metres = self.step_m * place
        last = self.step_m * self.divisions
        number = f"{metres / 1000:g}" if last >= 2000 else f"{metres:g}"
        return number if place < self.divisions else f"{number} {'km' if last >= 2000 else 'm'}"


def scale_bar(metres_per_mm: float, least_mm: float = BAR_MM[0], most_mm: float = BAR_MM[1]) -> ScaleBar:
    """Return a bar of two to five divisions of a 1-2-5 step, as long as it may be.

    Parameters
    ----------
    metres_per_mm : float
        Scale of the picture.
    least_mm, most_mm : float
        How long it may be; the longer at least twice the shorter. [mm]
    """
    choices: list[ScaleBar] = []
    power = 10.0 ** math.floor(math.log10(most_mm * metres_per_mm))
    for factor in (power / 10, power):
        for step in STEPS:
            step_mm = step * factor / metres_per_mm
            choices += [
                ScaleBar(step * factor, count, step_mm)
                for count in (2, 3, 4, 5)
                if least_mm <= step_mm * count <= most_mm + 1e-9
            ]
    return max(choices, key=lambda bar: (bar.divisions in (4, 5), bar.length_mm))


def tick_spacing(metres_per_mm: float, least_mm: float = 45.0) -> float:
    """Return the ground between grid ticks: the smallest 1-2-5 step at least ``least_mm`` apart. [m].

    Parameters
    ----------
    metres_per_mm : float
        Scale of the picture.
    least_mm : float
        Room that a written coordinate needs. [mm]
    """
    wanted = least_mm * metres_per_mm
    power = 10.0 ** math.floor(math.log10(wanted))
    return next(step * power for step in (*STEPS, 10.0) if step * power >= wanted * (1 - 1e-9))


def tick_values(low: float, high: float, spacing: float) -> Floats:
    """Return the multiples of ``spacing`` from ``low`` to ``high``. [m]."""
    first, last = math.ceil(low / spacing - 1e-9), math.floor(high / spacing + 1e-9)
    return np.arange(first, last + 1, dtype=np.float64) * spacing
