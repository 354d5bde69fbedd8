"""Strokes of a hatch: where even parallel lines lie inside areas or discs.

The lines are fixed to one place, so that the hatches of neighbours run on
into each other, and a map that is moved takes them along.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from farmmap.scene.view import Floats

Ints = NDArray[np.int64]
Frame = tuple[float, float, float, float]
"""Left, top, right and bottom. [dots]"""


class Ruling:
    """Parallel lines, counted from one that goes through a place.

    Parameters
    ----------
    angle_deg : float
        How they run, from left to right towards the top. [degrees]
    spacing : float
        From one to the next. [dots]
    fixed_at : tuple of float
        The place. [dots]
    frame : tuple of float
        Left, top, right and bottom of what is seen; nothing else is looked for. [dots]
    """

    def __init__(self, angle_deg: float, spacing: float, fixed_at: tuple[float, float], frame: Frame) -> None:
        turn = math.radians(angle_deg)
        self._along = np.array([math.cos(turn), -math.sin(turn)])
        self._across = np.array([math.sin(turn), math.cos(turn)])
        self._spacing, self._fixed_at = spacing, np.array(fixed_at)
        left, top, right, bottom = frame
        line, run = self._on_lines(np.array([(left, top), (right, top), (right, bottom), (left, bottom)]))
        self._first, self._last = math.floor(line.min()), math.ceil(line.max())
        self._from, self._to = float(run.min()), float(run.max())

    def in_rings(self, corners: Floats, rings: Ints, areas: Ints) -> Floats:
        """Return strokes inside areas, holes left out.

        Parameters
        ----------
        corners : ndarray, shape (n, 2)
            Corners of all rings, each ring closed. [dots]
        rings : ndarray of int, shape (k + 1,)
            Where each ring begins in ``corners``, and the end.
        areas : ndarray of int, shape (m + 1,)
            Where each area begins in ``rings``, and the end; its first ring is its outline, the others are holes.

        Returns
        -------
        ndarray, shape (s, 4)
            x and y of both ends of each stroke. [dots]
        """
        line, run = self._on_lines(corners)
        is_edge = np.ones(max(len(corners) - 1, 0), np.bool_)
        is_edge[rings[1:-1] - 1] = False  # from the end of a ring to the beginning of the next
        edge = np.flatnonzero(is_edge)
        owner = np.repeat(np.arange(len(areas) - 1), np.diff(rings[areas]))[edge]
        low = np.clip(np.ceil(np.minimum(line[edge], line[edge + 1])), self._first, self._last + 1).astype(np.int64)
        high = np.clip(np.ceil(np.maximum(line[edge], line[edge + 1])), self._first, self._last + 1).astype(np.int64)
        met, which = _counted(low, high)
        edge, owner = edge[which], owner[which]
        part = (met - line[edge]) / (line[edge + 1] - line[edge])
        at = run[edge] + part * (run[edge + 1] - run[edge])
        order = np.lexsort((at, met, owner))
        return self._strokes(met[order][::2], at[order][::2], at[order][1::2])

    def in_discs(self, x: Floats, y: Floats, diameter: Floats) -> Floats:
        """Return strokes inside any of some discs, shape (s, 4); where discs overlap there is one stroke. [dots]."""
        line, run = self._on_lines(np.column_stack([x, y]))
        reach = diameter / 2 / self._spacing
        low = np.clip(np.ceil(line - reach), self._first, self._last + 1).astype(np.int64)
        high = np.clip(np.floor(line + reach) + 1, self._first, self._last + 1).astype(np.int64)
        met, which = _counted(low, high)
        half = np.sqrt(np.maximum((diameter[which] / 2) ** 2 - ((met - line[which]) * self._spacing) ** 2, 0.0))
        return self._strokes(*_joined(met, run[which] - half, run[which] + half))

    def _on_lines(self, points: Floats) -> tuple[Floats, Floats]:
        """Which line each point lies on, in parts of the spacing, and how far along it."""
        off = points - self._fixed_at
        return off @ self._across / self._spacing, off @ self._along

    def _strokes(self, line: Ints, start: Floats, end: Floats) -> Floats:
        start, end = np.maximum(start, self._from), np.minimum(end, self._to)
        keep = end > start
        foot = self._fixed_at + line[keep, None] * self._spacing * self._across
        return np.hstack([foot + start[keep, None] * self._along, foot + end[keep, None] * self._along])


def _counted(low: Ints, high: Ints) -> tuple[Ints, Ints]:
    """Every whole number from each low to below its high, and which pair it comes from."""
    many = np.maximum(high - low, 0)
    which = np.repeat(np.arange(len(low)), many)
    return np.arange(len(which)) - np.repeat(np.cumsum(many) - many, many) + low[which], which


def _joined(line: Ints, start: Floats, end: Floats) -> tuple[Ints, Floats, Floats]:
    """Stretches of lines with those that overlap made one."""
    order = np.lexsort((start, line))
    line, start, end = line[order], start[order], end[order]
    if not len(line):
        return line, start, end
    span = float(end.max() - start.min()) + 1.0
    shift = (line - line[0]) * span  # so far apart, stretches of two lines never overlap
    reached = np.maximum.accumulate(end + shift)
    begins = np.concatenate([[True], (start + shift)[1:] > reached[:-1]])
    first = np.flatnonzero(begins)
    last = np.concatenate([first[1:], [len(line)]]) - 1
    return line[first], start[first], (reached - shift)[last]
