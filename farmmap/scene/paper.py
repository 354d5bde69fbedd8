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
}
"""Width and height of upright sheets; source: ISO 216. [mm]"""

TIMES_A4 = {"A4": 1.0, "A3": 1.12, "A2": 1.35, "A1": 1.7, "A0": 2.2}
"""How much larger type is on larger paper, which is read from farther away."""


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, one way round.

    Attributes
    ----------
    name : str
        ``A4`` to ``A0``.
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
        There is no such size.
    """
    size = PAPERS.get(name.strip().upper())
    if size is None:
        raise BadInput(f"'{name}' is not a size of paper that farmmap knows; choose {', '.join(PAPERS)}")
    return Paper(name.strip().upper(), *(reversed(size) if landscape else size))
