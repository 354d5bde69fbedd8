"""Signs of a new fence on paper, the same on the map and in the key; told apart by their shapes alone."""

from __future__ import annotations

import math

from farmmap.scene.page_items import Disc, Item, Shape
from farmmap.scene.styles import Theme

STRAINER_MM, GATE_MM, TROUGH_MM, FLOODGATE_MM = 1.1, 2.6, 2.4, 2.6
"""Widths. [mm]"""


def strainer_sign(x: float, y: float, theme: Theme) -> list[Item]:
    """Return a strainer post: a full square with its middle at a place. [mm]."""
    return [_square(x, y, STRAINER_MM, theme.lines["fences"].colour, theme.inside, 0.1)]


def gate_sign(x: float, y: float, theme: Theme, turn_deg: float = 0.0, wide_mm: float = 0.0) -> list[Item]:
    """Return a gate: an opening in the fence and a leaf that stands open.

    Parameters
    ----------
    x, y : float
        Its middle. [mm]
    theme : Theme
        The look.
    turn_deg : float
        How the fence runs there, clockwise from left to right. [degrees]
    wide_mm : float
        True width; drawn no narrower than `GATE_MM`. [mm]
    """
    half, ink = max(wide_mm, GATE_MM) / 2, theme.ink
    cos, sin = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))

    def at(across: float, down: float) -> tuple[float, float]:
        return x + across * cos - down * sin, y + across * sin + down * cos

    posts = [Shape((at(end, -0.5), at(end, 0.5)), line=ink, line_mm=0.35) for end in (-half, half)]
    opening = Shape((at(-half, 0), at(half, 0)), line=theme.inside, line_mm=1.0)
    return [opening, *posts, Shape((at(-half, 0), at(half * 0.45, -half * 1.35)), line=ink, line_mm=0.35)]


def trough_sign(x: float, y: float, theme: Theme) -> list[Item]:
    """Return a trough: water in a square. [mm]."""
    water = theme.lines["creeks"].colour
    return [
        _square(x, y, TROUGH_MM, theme.inside, theme.ink, 0.25),
        Disc(x, y, TROUGH_MM * 0.5, water, 0.1, water),
    ]


def floodgate_sign(x: float, y: float, theme: Theme) -> list[Item]:
    """Return a gate that hangs over water: a full triangle that points down. [mm]."""
    half = FLOODGATE_MM / 2
    corners = ((x - half, y - half), (x + half, y - half), (x, y + half))
    return [Shape(corners, closed=True, line=theme.inside, line_mm=0.15, fill=theme.lines["creeks"].colour)]


def _square(x: float, y: float, side: float, fill: str, line: str, line_mm: float) -> Shape:
    half = side / 2
    corners = ((x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half))
    return Shape(corners, closed=True, line=line, line_mm=line_mm, fill=fill)
