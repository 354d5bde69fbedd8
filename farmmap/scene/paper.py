"""Sizes of paper."""

from __future__ import annotations

from dataclasses import dataclass

from farmmap.errors import BadInput

PAPERS: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0),
    "A5": (148.0, 210.0),
    "A6": (105.0, 148.0),
    "A7": (74.0, 105.0),
}
"""Width and height of upright sheets; source: ISO 216, those under A4 from memory. [mm]"""

TOO_SMALL = ("A8", "A9", "A10")
"""Sizes of ISO 216 on which no map can be read."""

TIMES_A4 = {"A4": 1.0, "A3": 1.12, "A2": 1.35, "A1": 1.7, "A0": 2.2, "A5": 1.0, "A6": 1.0, "A7": 1.0}
"""How much larger type is on larger paper, which is read from farther away; on smaller paper it is no smaller than on
A4, where it is as small as can be read already."""


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, one way round.

    Attributes
    ----------
    name : str
        ``A7`` to ``A0``.
    width_mm, height_mm : float
        As it lies. [mm]
    """

    name: str
    width_mm: float
    height_mm: float

    @property
    def is_landscape(self) -> bool:
        """Whether it is wider than high."""
        return self.width_mm > self.height_mm


def paper_of(name: str, *, landscape: bool) -> Paper:
    """Return a sheet of a size, upright or lying.

    Raises
    ------
    BadInput
        There is no such size, or it is too small for a map.
    """
    wanted = name.strip().upper()
    size = PAPERS.get(wanted)
    if wanted in TOO_SMALL:
        smallest = min(PAPERS, key=lambda one: PAPERS[one])
        raise BadInput(f"{wanted} is too small for a map that can be read; take {smallest} or larger")
    if size is None:
        raise BadInput(f"'{name}' is not a size of paper that farmmap knows; choose {', '.join(PAPERS)}")
    return Paper(wanted, *(reversed(size) if landscape else size))
