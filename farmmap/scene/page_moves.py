"""Elements of a page that were put somewhere by hand."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Moved:
    """An element of a page that was put somewhere by hand.

    Attributes
    ----------
    name : str
        Name of its box, or ``map``.
    x, y : float
        Its upper left corner, from that of the page. [mm]
    width, height : float or None
        The room that it is set for; None for what it has by itself. [mm]
    """

    name: str
    x: float
    y: float
    width: float | None = None
    height: float | None = None
