"""Which ground lies left and which right of a stretch of creek, shared out once for all widths up to one.

The ground in reach is cut along all lines of the creek, whether they lie in
the stretch or not. A face that touches the creek from one side only is of that
side; one that touches it from both (in a fork, on an island, round an end) is
shared out to the nearer bank. What lies behind a bank that is drawn by itself
is water.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from farmmap.figures.banks import BESIDE_M, Reach, normals, pieces
from farmmap.figures.prepared import prepared
from farmmap.figures.united import united
from farmmap.plans.planting.ground.sweeps import Run, runs_of, swept

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Shapes = NDArray[np.object_]

WATER = 2
"""Beside the sides 0 (left) and 1 (right): what lies behind a bank that is drawn by itself."""

COARSE_M = 0.1
"""How far the outer edge of the ground that is shared out may be off, in grid m; no band reaches so far."""

BANK_FINE_M = 5e-4
"""How far the corners of a bank stand off the true one at most, in grid m."""

FINEST_STEP_M = 0.5
MOST_SAMPLES = 4_000
"""Points along the banks by which a face that touches several sides is shared out, no nearer than the step."""


def shared_out(part: Sequence[Reach], whole: Sequence[Reach], far: float) -> tuple[shapely.Geometry, shapely.Geometry]:
    """Return the ground left and right of a stretch, from the middle of the channel outwards.

    Parameters
    ----------
    part : sequence of Reach
        The stretch; widths tell which banks are drawn.
    whole : sequence of Reach
        The whole creek that it is a part of.
    far : float
        How far beyond the bank the ground reaches. [grid m]

    Returns
    -------
    left, right : shapely Polygon or MultiPolygon
        They do not overlap.
    """
    band = united(
        swept(runs, side, (far, 0.0), 1.0, COARSE_M, past=True) for side in (0, 1) if (runs := runs_of(part, side))
    )
    near = reaches_near(whole, band.bounds)
    lines = shapely.union_all([reach.line for reach in near])
    linework = shapely.union_all([lines, band.boundary, *_tails(whole, far)])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(linework)))
    faces = faces[shapely.contains_properly(prepared(band), shapely.point_on_surface(faces))]
    if not len(faces):
        return Polygon(), Polygon()
    return _of_sides(faces, _Beside(lines, near), far)


def reaches_near(reaches: Sequence[Reach], bounds: tuple[float, float, float, float]) -> list[Reach]:
    """Return what of some stretches lies within a rectangle, drawn downstream as before."""
    west, south, east, north = bounds
    out: list[Reach] = []
    for reach in reaches:
        clipped = shapely.clip_by_rect(reach.line, west, south, east, north)
        out += [replace(reach, line=line) for line in shapely.get_parts(clipped) if line.length > 0]
    return out


def channel_of(reaches: Sequence[Reach]) -> shapely.Geometry:
    """Ground between the banks of stretches drawn by their middle, and a hair past its ends; empty for banks."""
    wide = [reach for reach in reaches if reach.half > 0]
    return united(
        swept(runs, side, (0.0, 0.0), 1.0, BANK_FINE_M, past=True) for side in (0, 1) if (runs := runs_of(wide, side))
    )


class _Beside:
    """The creek's lines as straight pieces, and what lies to the left and right of each.

    Attributes
    ----------
    begins, ends, along : ndarray, shape (n, 2)
        Ends of each piece on the grid, and its direction downstream.
    kind : ndarray of int, shape (2, n)
        What lies to its left and to its right: 0, 1 or `WATER`.
    """

    def __init__(self, lines: shapely.Geometry, reaches: Sequence[Reach]) -> None:
        self.begins, self.ends, _ = pieces(shapely.get_parts(lines))
        starts, stops, owner = pieces(np.array([reach.line for reach in reaches], object))
        drawn = shapely.linestrings(np.stack([starts, stops], axis=1))
        _, nearest = shapely.STRtree(drawn).query_nearest(shapely.points(self.middle), all_matches=False)
        steps = (stops - starts)[nearest]
        self.along = steps / np.hypot(steps[:, 0], steps[:, 1])[:, None]
        has = np.array([reach.widths for reach in reaches]) > 0
        self.kind = np.where(has, [0, 1], WATER).T[:, owner[nearest]]

    @property
    def middle(self) -> Floats:
        """Middle of each piece, shape (n, 2)."""
        return (self.begins + self.ends) / 2

    @property
    def length(self) -> Floats:
        """Length of each piece, shape (n,)."""
        return np.hypot(*(self.ends - self.begins).T)

    def spots(self, side: int) -> Shapes:
        """Points just to one side of the middle of each piece, shape (n,)."""
        off = np.minimum(BESIDE_M, self.length / 10)[:, None]
        return shapely.points(self.middle + off * normals(self.along, side))


def _of_sides(faces: Shapes, beside: _Beside, far: float) -> tuple[shapely.Geometry, shapely.Geometry]:
    touching = [shapely.STRtree(beside.spots(side)).query(faces, predicate="intersects") for side in (0, 1)]
    face, piece = np.concatenate(touching, axis=1)
    looked = np.repeat([0, 1], [pairs.shape[1] for pairs in touching])
    kind = beside.kind[looked, piece]
    touched = np.array([np.bincount(face[kind == each], minlength=len(faces)) > 0 for each in (0, 1, WATER)])
    only = touched.sum(axis=0) == 1
    owned: list[list[shapely.Geometry]] = [list(faces[only & touched[side]]) for side in (0, 1)]
    for place in np.flatnonzero(touched.sum(axis=0) > 1):
        here = face == place
        shares = _nearer_shares(faces[place], beside, (piece[here], looked[here], kind[here]), far)
        for side in (0, 1):
            owned[side].append(shares[side])
    alone = faces[touched.sum(axis=0) == 0]
    for shape, side in zip(alone, _nearest_kind(alone, beside), strict=True):
        if side != WATER:
            owned[side].append(shape)
    left, right = (united(shapes) for shapes in owned)
    return left, right


def _nearest_kind(faces: Shapes, beside: _Beside) -> Ints:
    """Return what faces that touch no line belong to: the side of the nearest piece, shape (k,)."""
    if not len(faces):
        return np.empty(0, np.intp)
    points = shapely.point_on_surface(faces)
    lines = shapely.linestrings(np.stack([beside.begins, beside.ends], axis=1))
    _, nearest = shapely.STRtree(lines).query_nearest(points, all_matches=False)
    offset = shapely.get_coordinates(points) - beside.middle[nearest]
    along = beside.along[nearest]
    right = along[:, 0] * offset[:, 1] - along[:, 1] * offset[:, 0] <= 0
    return beside.kind[right.astype(int), nearest]


def _nearer_shares(
    face: Polygon, beside: _Beside, touching: tuple[Ints, Ints, Ints], far: float
) -> tuple[shapely.Geometry, shapely.Geometry]:
    """Parts of a face that are nearest to the left and to the right bank.

    Parameters
    ----------
    face : Polygon
        Ground that touches the creek from several sides.
    beside : _Beside
        Pieces of the creek.
    touching : tuple of ndarray of int, shape (k,)
        Pieces that touch it, from which side each does, and what lies there.
    far : float
        How far the ground reaches. [grid m]
    """
    piece, looked, kind = touching
    length = beside.length[piece]
    step = max(min(far / 16, FINEST_STEP_M), float(length.sum()) / MOST_SAMPLES)
    number = np.ceil(length / step).astype(int)
    each = np.repeat(np.arange(len(piece)), number)
    part = (np.arange(len(each)) - np.repeat(np.cumsum(number) - number, number) + 0.5) / number[each]
    on = beside.begins[piece[each]] + part[:, None] * (beside.ends - beside.begins)[piece[each]]
    along = beside.along[piece[each]]
    off = np.where((looked[each] == 0)[:, None], normals(along, 0), normals(along, 1))
    cells, points = _cells(on + off * (step / 50), face, step)
    tree = shapely.STRtree(shapely.points(points))
    point, cell = tree.query(cells, predicate="intersects")[::-1]
    of_cell = np.full(len(cells), WATER)
    of_cell[cell] = kind[each][point]
    left = shapely.intersection(united(cells[of_cell == 0]), face)
    rest = shapely.difference(face, left)
    water = united(cells[of_cell == WATER]) if (kind == WATER).any() else Polygon()
    return left, shapely.difference(rest, water)


def _cells(points: Floats, face: Polygon, step: float) -> tuple[Shapes, Floats]:
    """Ground nearest to each point, and the points, shifted by less than a hundredth of a step.

    Points on a neat square pattern, four and more of them on one circle, make
    the cells come out overlapping; a small shift breaks the pattern.
    """
    middle = points.mean(axis=0)
    random = np.random.default_rng(1)
    around = shapely.transform(face, lambda corners: corners - middle)
    for shift in (1e-4, 1e-3, 3e-3, 1e-2):
        moved = points - middle + random.uniform(-shift, shift, points.shape) * step
        cells = shapely.get_parts(shapely.voronoi_polygons(shapely.multipoints(moved), extend_to=around))
        whole = united(cells).area
        if abs(shapely.area(cells).sum() - whole) <= 1e-6 * whole:
            break
    return shapely.transform(cells, lambda corners: corners + middle), moved + middle


def _tails(whole: Sequence[Reach], length: float) -> list[LineString]:
    """Straight runs on past the ends of a creek, which keep its left and right apart there."""
    ends = np.array([spot for reach in whole for spot in (reach.line.coords[0], reach.line.coords[-1])])
    tree = shapely.STRtree([reach.line for reach in whole])
    out: list[LineString] = []
    for place, reach in enumerate(whole):
        corners = shapely.get_coordinates(reach.line)
        for which, (end, before) in enumerate(((corners[0], corners[1]), (corners[-1], corners[-2]))):
            met = tree.query(shapely.Point(ends[2 * place + which]), predicate="dwithin", distance=BESIDE_M)
            if len(met) == 1 and not reach.line.is_closed:
                step = (end - before) / np.hypot(*(end - before))
                out.append(LineString([end, end + step * length]))
    return out


__all__ = ["Run", "channel_of", "reaches_near", "shared_out"]
