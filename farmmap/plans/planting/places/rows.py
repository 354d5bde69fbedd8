"""Rows along a creek, and plants along rows.

A row is the line of all places that are equally far from the bank. On such
lines plants of different rows are never nearer to one another than the rows'
distances differ: how far a place is from the bank changes by a metre at most
for each metre walked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from farmmap.figures.remembered import Remembered
from farmmap.figures.united import united
from farmmap.plans.planting.ground.stretch import CreekPart

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Lines = NDArray[np.object_]

ROUND_SEGS = 16
"""Corners of a quarter circle of a row round a bend: within 0.12 % of its true distance."""

SHARP = 3.0
"""Corners are drawn out up to so many times the step from row to row."""

FINE = 6
"""Near tight bends the way between two plants is looked up so many times a spacing."""

ENOUGH = 0.995
"""Plants count as far enough apart in a straight line from this share of the spacing on."""

TIGHT_TURN = 2 * math.acos(ENOUGH)
"""A row that turns by less within a spacing brings plants no nearer than `ENOUGH`. [radians]"""

FURTHEST = 3.0
"""Plants along a row are set at most so many spacings apart, however sharply it turns back."""

TRIES = 12

TIP_TURN = math.radians(60)
"""A corner at which a row turns by more is a tip, where its two legs run together. [radians]"""

_LEVELS: Remembered[Lines] = Remembered(24)


@dataclass(frozen=True, eq=False)
class Runs:
    """Unbroken stretches of rows.

    Attributes
    ----------
    lines : ndarray of LineString, shape (n,)
        On the grid; closed where a row runs round.
    row : ndarray of int, shape (n,)
        Number of the row that each belongs to.
    """

    lines: Lines
    row: Ints

    def __len__(self) -> int:
        """Return the number of stretches."""
        return len(self.lines)


def row_distances(least: float, most: float, between: float) -> Floats:
    """Distances of rows across a strip: as many as there is room for, half a row and more from both its edges.

    n = ⌊width / between⌋ rows, at least one, in the middle of the strip. Shape (n,).
    """
    width = max(most - least, 0.0)
    count = max(math.floor(width / between + 1e-9), 1)
    return least + (width - (count - 1) * between) / 2 + between * np.arange(count, dtype=np.float64)


def creek_runs(part: CreekPart, clear: shapely.Geometry, distances: Floats, turn: float) -> Runs:
    """Rows along a creek, cut to the ground that is clear.

    Parameters
    ----------
    part : CreekPart
        The creek.
    clear : shapely Polygon or MultiPolygon
        Ground to plant on one side of it.
    distances : ndarray, shape (n,)
        Of the rows from the bank, evenly rising. [grid m]
    turn : float
        Least radius of bends; 0 for any. [grid m]
    """
    rows = _levels(part, distances, turn)
    tight = distances + min(reach.half for reach in part.reaches) < turn
    if tight.any():
        rows = np.where(tight, _bends_eased(shapely.intersection(rows, clear), turn), rows)
    return cut_to(rows, clear)


def cut_to(rows: Lines, ground: shapely.Geometry) -> Runs:
    """Return the stretches of rows that lie on ground, run together where they meet end to end.

    Parameters
    ----------
    rows : ndarray of shapely LineString or MultiLineString, shape (n,)
        All of one row each.
    ground : shapely Polygon or MultiPolygon
        Where they may run.
    """
    parts, row = shapely.get_parts(shapely.line_merge(shapely.intersection(rows, ground)), return_index=True)
    real = _lines_among(parts)
    return Runs(parts[real], row[real])


def _lines_among(shapes: Lines) -> NDArray[np.bool_]:
    """Which shapes are lines of some length, shape (n,)."""
    return (shapely.get_type_id(shapes) == shapely.GeometryType.LINESTRING) & (shapely.length(shapes) > 0)


def points_along(lines: Lines, within: float, headland: float = 0.0) -> tuple[Floats, Floats, Ints]:
    """Places along lines, neighbours at least ``within`` apart in a straight line, and about that along the line.

    On straight and gently bent stretches the places are ``within`` apart along
    the line. Round a tight bend they are set further apart along it, by as much
    as the tightest pair that may fall there needs, so that wherever a line
    begins no pair comes too near. Without a headland about half a spacing stays
    free at both ends, so that a line of length L holds L / within places; on a
    closed line they are spread evenly all round.

    Parameters
    ----------
    lines : ndarray of LineString, shape (n,)
        None of length 0. [grid m]
    within : float
        From plant to plant. [grid m]
    headland : float
        Left free at both ends of lines that are not closed. [grid m]

    Returns
    -------
    x, y : ndarray, shape (k,)
        In order of line, and along it.
    line : ndarray of int, shape (k,)
        Place of the line in ``lines``.
    """
    if not len(lines):
        return np.empty(0), np.empty(0), np.empty(0, np.intp)
    way = Way(lines, within)
    at, line = way.planted(headland)
    x, y = way.places(at)
    return x, y, line


@dataclass(frozen=True, eq=False)
class Tips:
    """Sharp corners of lines, in order along their way.

    Attributes
    ----------
    at : ndarray, shape (n,)
        Where they are on the way. [m]
    x, y : ndarray, shape (n,)
        On the grid. [grid m]
    east, north : ndarray, shape (n,)
        Which way they point: a step of one metre. [m]
    sine : ndarray, shape (n,)
        Of half the angle between a tip's two legs.
    """

    at: Floats
    x: Floats
    y: Floats
    east: Floats
    north: Floats
    sine: Floats


class Way:
    """Lines laid out one after another, so that one number says a place on any of them.

    Attributes
    ----------
    within : float
        From plant to plant. [m]
    closed : ndarray of bool, shape (n,)
        Which lines run round.
    begins, ends : ndarray, shape (n,)
        Where each line begins and ends on the way. [m]
    """

    def __init__(self, lines: Lines, within: float, *, tips_too: bool = True) -> None:
        """Lay lines out; plants are set further apart round their tips, too, unless these are looked after apart."""
        self.within = within
        self._tips_too = tips_too
        self.closed = shapely.is_closed(lines)
        self._corners, self._owner = shapely.get_coordinates(lines, return_index=True)
        self._steps = np.diff(self._corners, axis=0)
        length = np.hypot(self._steps[:, 0], self._steps[:, 1])
        self._joins = self._owner[1:] != self._owner[:-1]
        length[self._joins] = 2 * FURTHEST * within  # so that no way from one line reaches into the next
        self._at = np.concatenate([[0.0], np.cumsum(length)])
        self._length = length
        last = np.append(np.flatnonzero(self._joins), len(self._at) - 1)
        self.begins = self._at[np.concatenate([[0], last[:-1] + 1])]
        self.ends = self._at[last]

    def places(self, at: Floats) -> tuple[Floats, Floats]:
        """Places on the way, shape (k,)."""
        return np.interp(at, self._at, self._corners[:, 0]), np.interp(at, self._at, self._corners[:, 1])

    def line_at(self, at: Floats) -> Ints:
        """Return the line on which places on the way lie, shape (k,)."""
        return np.maximum(np.searchsorted(self.begins, at, side="right") - 1, 0)

    def planted(self, headland: float) -> tuple[Floats, Ints]:
        """Places on the way of plants, and the line of each, shape (k,); see `points_along`."""
        free = np.where(self.closed, 0.0, headland)
        pace_at, pace = self.paces()
        begins, ends = self.begins + free, self.ends - free
        first, last = np.interp(begins, pace_at, pace), np.interp(ends, pace_at, pace)
        total = np.where(ends >= begins, last - first, -1.0)
        count = np.floor(total + np.where(free > 0, 1.0, np.where(self.closed, 0.0, 0.5)) + 1e-9)
        count = np.maximum(count, 0).astype(np.intp)
        step = np.where(self.closed, total / np.maximum(count, 1), 1.0)
        left = np.where(self.closed, 0.0, (total - (count - 1)) / 2)
        line = np.repeat(np.arange(len(count)), count)
        nth = np.arange(len(line)) - np.repeat(np.cumsum(count) - count, count)
        return np.interp(first[line] + left[line] + nth * step[line], pace, pace_at), line

    def tips(self) -> Tips:
        """Return the corners at which a line turns by more than `TIP_TURN`."""
        real = np.flatnonzero(self._length > 0)
        inner = real[1:][~(self._joins[real[1:]] | self._joins[real[:-1]])]
        before, after = real[np.searchsorted(real, inner) - 1], inner
        rounds = np.flatnonzero(self.closed)
        if len(rounds):  # where a line that runs round begins and ends
            starts = np.searchsorted(self._at[real], self.begins[rounds])
            stops = np.searchsorted(self._at[real], self.ends[rounds]) - 1
            before, after = np.append(before, real[stops]), np.append(after, real[starts])
        order = np.argsort(after, kind="stable")
        before, after = before[order], after[order]
        ahead = self._steps[before] / self._length[before][:, None]
        onward = self._steps[after] / self._length[after][:, None]
        sharp = (ahead * onward).sum(axis=1) < math.cos(TIP_TURN)
        corner, point = after[sharp], ahead[sharp] - onward[sharp]
        long = np.hypot(point[:, 0], point[:, 1])
        x, y = self._corners[corner].T
        east, north = (point / long[:, None]).T
        return Tips(self._at[corner], x, y, east, north, np.sqrt(np.maximum(1 - (long / 2) ** 2, 0.0)))

    def paces(self) -> tuple[Floats, Floats]:
        """Count the spacings walked: places on the way, and the count there, even in between; shape (k,) each."""
        base = np.full(len(self.begins), 1 / self.within)
        at, change = [self.begins, self.ends], [base, -base]
        low, high, wide = self._tight_cells()
        if len(low):
            fewer = 1 / wide - 1 / self.within
            at += [low, high]
            change += [fewer, -fewer]
        where, changes = np.concatenate(at), np.concatenate(change)
        order = np.argsort(where, kind="stable")
        where = where[order]
        rate = np.cumsum(changes[order])[:-1]
        return where, np.concatenate([[0.0], np.cumsum(np.maximum(rate, 0.0) * np.diff(where))])

    def _tight_cells(self) -> tuple[Floats, Floats, Floats]:
        """Short pieces of the way near tight bends: begin, end, and how far apart plants are set there."""
        none = (np.empty(0), np.empty(0), np.empty(0))
        tight = self._tight_corners()
        if not len(tight):
            return none
        cell, most = self.within / FINE, int(FURTHEST * FINE) + 2
        home = np.floor(self._at[tight] / cell).astype(np.intp) + most
        looked_at = np.zeros(int(self._at[-1] / cell) + 2 * most + 1, bool)
        for back in range(FINE + 2):
            looked_at[home - back] = True
        cells = np.flatnonzero(looked_at)
        begin = (cells - most) * cell
        line = np.maximum(np.searchsorted(self.begins, begin, side="right") - 1, 0)
        start = np.clip(begin, self.begins[line], self.ends[line])
        reach = self._needed(start, self.ends[line])
        bent = reach > self.within / ENOUGH
        cells, reach, start = cells[bent], reach[bent], start[bent]
        if not len(cells):
            return none
        over = np.ceil((start + reach) / cell).astype(np.intp) + most - cells
        wide = np.full(len(looked_at), self.within)
        for further in range(-1, int(over.max()) + 1):
            under = over >= further
            at = cells[under] + further
            wide[at] = np.maximum(wide[at], reach[under])
        spread = np.flatnonzero(wide > self.within)
        low = (spread - most) * cell
        high = low + cell
        line = np.maximum(np.searchsorted(self.begins, high, side="left") - 1, 0)
        low, high = np.maximum(low, self.begins[line]), np.minimum(high, self.ends[line])
        real = high > low
        return low[real], high[real], wide[spread[real]]

    def _tight_corners(self) -> Ints:
        """Corners at or soon after which the line turns so much that plants may come too near."""
        ahead, after = self._steps[:-1], self._steps[1:]
        cross = ahead[:, 0] * after[:, 1] - ahead[:, 1] * after[:, 0]
        turn = np.abs(np.arctan2(cross, (ahead * after).sum(axis=1)))
        turn[self._joins[:-1] | self._joins[1:]] = 0.0
        if not self._tips_too:
            turn[turn > TIP_TURN] = 0.0
        turned = np.concatenate([[0.0, 0.0], np.cumsum(turn), [0.0]])  # before each corner, and before the first
        turned[-1] = turned[-2]
        bent = np.flatnonzero(np.concatenate([[False], turn > 0, [False]]))
        until = np.searchsorted(self._at, self._at[bent] + 1.1 * self.within, side="right")
        return bent[turned[until] - turned[bent] > TIGHT_TURN]

    def _needed(self, start: Floats, end: Floats) -> Floats:
        """How far along the way from some places the first one lies that is a spacing away in a straight line.

        The straight line grows by a metre at most for each metre walked, so walking on by what is lacking never
        passes it. Where a line ends before, a spacing.
        """
        reach = np.full(len(start), self.within)
        x, y = self.places(start)
        going = np.arange(len(start))
        for _ in range(TRIES):
            to_x, to_y = self.places(start[going] + reach[going])
            lacking = self.within - np.hypot(to_x - x[going], to_y - y[going])
            short = (lacking > (1 - ENOUGH) * self.within) & (reach[going] < FURTHEST * self.within)
            going, lacking = going[short], lacking[short]
            if not len(going):
                break
            reach[going] = np.minimum(reach[going] + lacking, FURTHEST * self.within)
        return np.where(start + reach > end, self.within, reach)


def _levels(part: CreekPart, distances: Floats, turn: float) -> Lines:
    """Lines at some distances from the banks of a creek, on all sides of it, shape (n,)."""
    key = (tuple(np.round(distances, 9).tolist()), turn)
    return _LEVELS.get((part,), key, lambda: _levels_of(part, distances, turn))


def _levels_of(part: CreekPart, distances: Floats, turn: float) -> Lines:
    lines = [reach.line for reach in part.reaches]
    first = np.array([reach.half for reach in part.reaches]) + distances[0] + turn
    areas = [united(shapely.buffer(lines, first, quad_segs=ROUND_SEGS))]
    for step in np.diff(distances):
        # from row to row, not from the creek each time, so that all bends have the same corners
        areas.append(shapely.buffer(areas[-1], step, join_style="mitre", mitre_limit=SHARP))
    if turn > 0:  # what is drawn in again by as much as it was drawn out has no hollow tighter than that
        areas = list(shapely.buffer(areas, -turn, quad_segs=ROUND_SEGS))
    return shapely.boundary(np.array(areas, object))


def _bends_eased(rows: Lines, turn: float) -> Lines:
    """Rows whose bends are rounded where they are tighter than a radius, by drawing them off to either side and back.

    Source: closing by a disc (J. Serra 1982, Image analysis and mathematical morphology), once from either side.
    """
    lines, row = shapely.get_parts(shapely.line_merge(rows), return_index=True)
    real = _lines_among(lines)
    lines, row = lines[real], row[real]
    for off in (turn, -turn, -turn, turn):
        drawn = shapely.offset_curve(lines, off, quad_segs=ROUND_SEGS)
        lines = np.array([_in_one(*pair) for pair in zip(lines, drawn, strict=True)], object)
    return np.array([shapely.multilinestrings(lines[row == number]) for number in range(len(rows))], object)


def _in_one(line: shapely.LineString, drawn: shapely.Geometry) -> shapely.LineString:
    """Return what was drawn beside a line as one line, in the order along it; the line itself if nothing was."""
    parts = shapely.get_parts(drawn)
    parts = parts[_lines_among(parts)]
    if not len(parts):
        return line
    along = shapely.line_locate_point(line, shapely.line_interpolate_point(parts, 0.5, normalized=True))
    return LineString(shapely.get_coordinates(parts[np.argsort(along, kind="stable")]))
