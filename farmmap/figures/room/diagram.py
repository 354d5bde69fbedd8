"""The density diagram of a block: stocking over mean diameter, with lines of equal density."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from farmmap.figures.areas import M2_PER_HA
from farmmap.figures.room.density import TEN_INCHES_CM, stems_at_density

Floats = NDArray[np.float64]

DENSITIES = (50, 100, 200, 400, 800, 1600)
"""Stand density indices that lines are drawn for. [/ha]"""

POINTS = 25
"""Points of a line."""

BEYOND = 1.1
"""A diagram goes so many times as far as the thickest mean diameter in it."""

LEAST_CM, MOST_CM = 5.0, 80.0
"""Mean diameters that a diagram spans at least. [cm]"""


@dataclass(frozen=True, eq=False)
class Line:
    """A line of the diagram.

    Attributes
    ----------
    words : str
        What it stands for.
    qmd_cm, stems_per_ha : ndarray, shape (k,)
        Its points, on logarithmic scales. [cm, /ha]
    kind : str
        ``density`` or ``crowns``.
    """

    words: str
    qmd_cm: Floats
    stems_per_ha: Floats
    kind: str = "density"


@dataclass(frozen=True)
class Stand:
    """A block on a day, as a point of the diagram.

    Attributes
    ----------
    qmd_cm, stems_per_ha : float
        Where it stands. [cm, /ha]
    words : str
        What it is, such as a year.
    forecast : bool
        Whether it is forecast.
    crown_to_spacing : float
        Mean crown diameter over mean spacing on squares; nan where not known.
    """

    qmd_cm: float
    stems_per_ha: float
    words: str
    forecast: bool = False
    crown_to_spacing: float = math.nan


@dataclass(frozen=True, eq=False)
class Diagram:
    """What a density diagram shows.

    Attributes
    ----------
    lines : tuple of Line
        Lines of equal density, and the one at which free-grown crowns would fill the ground.
    stands : tuple of Stand
        The block, and its path if that is forecast.
    """

    lines: tuple[Line, ...]
    stands: tuple[Stand, ...]


def density_diagram(row: Mapping[str, Any], path: Sequence[Stand] = ()) -> Diagram | None:
    """Return the density diagram of a block.

    Lines of equal density are those of Reineke (1933) at 25.4 cm. The line of
    crowns is where the crowns that go with the stems of the block's own trees,
    grown or shrunk with the diameter, would together be as large as the ground
    (crown competition factor 100, Krajicek and others 1961).

    Parameters
    ----------
    row : mapping
        The block's row of `farmmap.figures.room.blocks.room_figures`.
    path : sequence of Stand
        Where it is forecast to stand later.

    Returns
    -------
    Diagram or None
        None for a block without a diameter.
    """
    qmd, stems = row.get("qmd_cm"), row.get("measured_stems_per_ha")
    if not qmd or not stems:
        return None
    stands = (Stand(float(qmd), float(stems), str(row.get("name", ""))), *path)
    least = min(LEAST_CM, *(stand.qmd_cm for stand in stands))
    most = max(MOST_CM, *(stand.qmd_cm * BEYOND for stand in stands))
    across = np.geomspace(least, most, POINTS)
    lines = [Line(f"{index}", across, stems_at_density(index, across, TEN_INCHES_CM)) for index in DENSITIES]
    covered = row.get("crown_competition_percent")
    if covered:
        one_m2 = covered / 100.0 * M2_PER_HA / stems  # ground under the crown of a mean tree of the block
        lines.append(Line("crowns fill the ground", across, M2_PER_HA / (one_m2 * (across / qmd) ** 2), "crowns"))
    return Diagram(tuple(lines), stands)
