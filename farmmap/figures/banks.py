"""Geometry of creek banks: which ground lies beside which bank, and where the banks run.

A margin is drawn in four steps. The creek's lines are given their reach (half
the channel and the margin's width) with flat ends; that ground is cut along
the lines themselves, which leaves faces that touch the creek from one side
only, however tightly it winds; each face goes to the side it touches; and a
face that touches both (inside a fork of one creek, or round a free end) is
shared out to the nearer one. Only then are the channels taken out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from farmmap.figures.prepared import prepared
from farmmap.figures.united import united

Floats = NDArray[np.float64]
Shapes = NDArray[np.object_]

SIDES = ("left", "right")
QUAD_SEGS = 32
"""Corners of a quarter circle where the reach bends round a corner: within 0.05 % of the true wedge."""

BESIDE_M = 1e-3
"""How far beside a line its side is looked up, in grid m."""

PAST_THE_END_M = 0.5
"""How far a channel is drawn on past a free end, so that its flat end is no bank, in grid m."""

MOST_SAMPLES = 4_000
"""Points along the banks by which a face that touches both sides is shared out."""


@dataclass(frozen=True)
class Reach:
    """A stretch of creek, drawn downstream.

    Attributes
    ----------
    line : LineString
        Middle of the channel, or a bank.
    half : float
        Half the channel's width, 0 for a bank line. [grid m]
    widths : tuple of float
        Width of the margin to the left and to the right; 0 where there is none. [grid m]
    """

    line: LineString
    half: float
    widths: tuple[float, float]

    def reach(self, side: int, further: float = 0.0) -> float:
        """How far the ground of a side reaches from the line, 0 if it has none, in grid m."""
        return self.half + self.widths[side] + further if self.widths[side] > 0 else 0.0


def channel(reaches: Sequence[Reach]) -> shapely.Geometry:
    """Ground between the banks of a creek; empty for bank lines."""
    wide = [r for r in reaches if r.half > 0]
    strips = shapely.buffer([r.line for r in wide], [r.half for r in wide], cap_style="flat", quad_segs=QUAD_SEGS)
    return united([*strips, *_joints(wide, [r.half for r in wide])])


def side_ground(reaches: Sequence[Reach], side: int, further: float = 0.0) -> shapely.Geometry:
    """Ground beside one bank, from the middle of the channel outwards, its channel not yet taken out.

    Parameters
    ----------
    reaches : sequence of Reach
        All stretches of one creek.
    side : int
        0 for the left bank, 1 for the right, looking downstream.
    further : float
        How much further than the margin's width it reaches. [grid m]

    Returns
    -------
    shapely Polygon or MultiPolygon
        Ground of the left and of the right never overlap.
    """
    having = [r for r in reaches if r.reach(side) > 0]
    if not having:
        return Polygon()
    far = [r.reach(side, further) for r in having]
    bands = shapely.buffer([r.line for r in having], far, cap_style="flat", quad_segs=QUAD_SEGS)
    band = united([*bands, *_joints(having, far)])
    lines = shapely.union_all([r.line for r in reaches])
    tails = [tail for r in reaches for tail in _tails(r.line, max(far))]
    linework = shapely.union_all([lines, band.boundary, *tails])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(linework)))
    faces = faces[shapely.contains_properly(prepared(band), shapely.point_on_surface(faces))]
    if not len(faces):
        return Polygon()
    return united(_faces_of_side(faces, _Edges(lines, reaches), side, max(far)))


def bank_line(reaches: Sequence[Reach], side: int, ground: shapely.Geometry) -> shapely.Geometry:
    """Line of one bank, its own creek's mouths left open.

    Parameters
    ----------
    reaches : sequence of Reach
        All stretches of one creek.
    side : int
        0 for the left bank, 1 for the right.
    ground : shapely geometry
        What `side_ground` gave.
    """
    wide = [r for r in reaches if r.half > 0]
    parts: list[shapely.Geometry] = [r.line for r in reaches if r.half == 0 and r.reach(side) > 0]
    if wide:
        longer = [Reach(_past_free_ends(r, reaches), r.half, r.widths) for r in wide]
        parts.append(shapely.intersection(channel(longer).boundary, ground))
    lines = [part for part in shapely.get_parts(parts) if part.length > 0 and part.geom_type == "LineString"]
    return joined(shapely.union_all(lines))


def square_ends(reaches: Sequence[Reach]) -> shapely.Geometry:
    """Flat ends of channels that another stretch goes on from: where the channel widens they are no bank."""
    out: list[LineString] = []
    for reach in reaches:
        if reach.half <= 0 or reach.line.is_closed:
            continue
        corners = shapely.get_coordinates(reach.line)
        for end, next_to in ((corners[0], corners[1]), (corners[-1], corners[-2])):
            point = shapely.Point(end)
            if any(other is not reach and other.line.distance(point) <= BESIDE_M for other in reaches):
                step = (end - next_to) / np.hypot(*(end - next_to))
                off = np.array([-step[1], step[0]]) * reach.half
                out.append(LineString([end - off, end + off]))
    return shapely.MultiLineString(out)


def joined(lines: shapely.Geometry) -> shapely.Geometry:
    """Return the lines of a shape, run together where their ends meet; what is no line is dropped."""
    parts = shapely.get_parts(lines)
    kept = parts[
        np.isin(shapely.get_type_id(parts), (shapely.GeometryType.LINESTRING, 2)) & (shapely.length(parts) > 0)
    ]
    return shapely.line_merge(shapely.union_all(kept)) if len(kept) else LineString()


def downstream(line: shapely.Geometry, against: bool) -> list[LineString]:
    """Return the parts of a line without repeated corners, the way the water runs; all without length is dropped."""
    parts = [
        part
        for part in shapely.get_parts(shapely.force_2d(line))
        if part.geom_type in {"LineString", "LinearRing"} and part.length > 0
    ]
    clean = [shapely.remove_repeated_points(part) for part in parts]
    return [shapely.reverse(part) for part in reversed(clean)] if against else clean


class _Edges:
    """Straight pieces of the creek's lines, each with what lies to its left and right.

    Attributes
    ----------
    middle : ndarray, shape (n, 2)
        Middle of each piece.
    along : ndarray, shape (n, 2)
        Its direction, of length 1, downstream.
    reach : ndarray of int, shape (n,)
        The stretch that it belongs to.
    """

    def __init__(self, lines: shapely.Geometry, reaches: Sequence[Reach]) -> None:
        self.reaches = reaches
        begins, ends, _ = pieces(shapely.get_parts(lines))
        self.length = np.hypot(*(ends - begins).T)
        self.middle = (begins + ends) / 2
        self.begins, self.ends = begins, ends
        starts, stops, owner = pieces(np.array([r.line for r in reaches], object))
        original = shapely.linestrings(np.stack([starts, stops], axis=1))
        _, nearest = shapely.STRtree(original).query_nearest(shapely.points(self.middle), all_matches=False)
        steps = (stops - starts)[nearest]
        self.along = steps / np.hypot(*steps.T)[:, None]
        self.reach = owner[nearest]

    def beside(self, side: int) -> Floats:
        """Points just to one side of the middle of each piece, shape (n, 2)."""
        off = np.minimum(BESIDE_M, self.length / 10)[:, None]
        return self.middle + off * normals(self.along, side)

    def wanted(self, side: int, asked: int) -> NDArray[np.bool_]:
        """Which pieces have, to their ``side``, ground of the side asked for, shape (n,)."""
        has = np.array([r.reach(asked) > 0 for r in self.reaches])
        return has[self.reach] & (side == asked)


def pieces(lines: Shapes) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Straight pieces of lines: begins and ends, shape (n, 2), and the line that each belongs to, shape (n,)."""
    corners, owner = shapely.get_coordinates(lines, return_index=True)
    same = (owner[1:] == owner[:-1]) & (corners[1:] != corners[:-1]).any(axis=1)
    return corners[:-1][same], corners[1:][same], owner[1:][same]


def normals(along: Floats, side: int) -> Floats:
    """Directions square to ``along``, to the left (0) or the right (1), shape (n, 2)."""
    left = np.column_stack([-along[:, 1], along[:, 0]])
    return left if side == 0 else -left


def _faces_of_side(faces: Shapes, edges: _Edges, side: int, far: float) -> list[shapely.Geometry]:
    """Faces that belong to a side, with its share of those that touch both."""
    tree = shapely.STRtree(faces)
    touching = [tree.query(shapely.points(edges.beside(looked)), predicate="intersects") for looked in (0, 1)]
    piece, face = np.concatenate(touching, axis=1)
    looked = np.repeat([0, 1], [pairs.shape[1] for pairs in touching])
    ours = np.where(looked == 0, edges.wanted(0, side)[piece], edges.wanted(1, side)[piece])
    mine = np.bincount(face[ours], minlength=len(faces)) > 0
    other = np.bincount(face[~ours], minlength=len(faces)) > 0
    kept: list[shapely.Geometry] = list(faces[mine & ~other])
    for place in np.flatnonzero(mine & other):
        here = face == place
        kept.append(_nearer_share(faces[place], edges, (piece[here], looked[here], ours[here]), far))
    for place in np.flatnonzero(~mine & ~other):
        point = shapely.point_on_surface(faces[place])
        nearest = int(np.argmin(shapely.distance(_segments(edges), point)))
        offset = shapely.get_coordinates(point)[0] - edges.middle[nearest]
        lies = 0 if edges.along[nearest][0] * offset[1] - edges.along[nearest][1] * offset[0] > 0 else 1
        if edges.wanted(lies, side)[nearest]:
            kept.append(faces[place])
    return kept


def _nearer_share(
    face: Polygon,
    edges: _Edges,
    touching: tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.bool_]],
    far: float,
) -> shapely.Geometry:
    """Part of a face that is nearer to pieces touching it from our side than to the others.

    Parameters
    ----------
    face : Polygon
        Ground that touches the creek from both sides.
    edges : _Edges
        Pieces of the creek.
    touching : tuple of ndarray, shape (k,)
        Pieces that touch it, the side from which each does, and whether that is ours.
    far : float
        How far the ground reaches. [grid m]
    """
    piece, looked, ours = touching
    step = max(far / 16, float(edges.length[piece].sum()) / MOST_SAMPLES)
    number = np.ceil(edges.length[piece] / step).astype(int)
    part = np.concatenate([(np.arange(n) + 0.5) / n for n in number])[:, None]
    row, side, own = np.repeat(piece, number), np.repeat(looked, number), np.repeat(ours, number)
    off = np.where((side == 0)[:, None], normals(edges.along[row], 0), normals(edges.along[row], 1))
    points = edges.begins[row] + part * (edges.ends - edges.begins)[row] + off * (step / 50)
    cells, points = _cells(points, face, step)
    kept = np.unique(shapely.STRtree(shapely.points(points[own])).query(cells, predicate="intersects")[0])
    return shapely.intersection(united(cells[kept]), face)


def _cells(points: Floats, face: Polygon, step: float) -> tuple[Shapes, Floats]:
    """Ground nearest to each point, and the points, shifted by less than a hundredth of a step.

    Points on a neat square pattern, four and more of them on one circle, make
    the cells come out overlapping; a small shift breaks the pattern.
    """
    middle = points.mean(axis=0)
    random = np.random.default_rng(1)
    for shift in (1e-4, 1e-3, 3e-3, 1e-2):
        moved = points - middle + random.uniform(-shift, shift, points.shape) * step
        around = shapely.transform(face, lambda corners: corners - middle)
        cells = shapely.get_parts(shapely.voronoi_polygons(shapely.multipoints(moved), extend_to=around))
        whole = united(cells).area
        if abs(shapely.area(cells).sum() - whole) <= 1e-6 * whole:
            break
    return shapely.transform(cells, lambda corners: corners + middle), moved + middle


def _segments(edges: _Edges) -> Shapes:
    return shapely.linestrings(np.stack([edges.begins, edges.ends], axis=1))


def _joints(reaches: Sequence[Reach], radius: Sequence[float]) -> list[shapely.Geometry]:
    """Discs where ends of stretches meet, which fill the notch between their flat ends."""
    ends: dict[tuple[float, float], list[float]] = {}
    for reach, wide in zip(reaches, radius, strict=True):
        if not reach.line.is_closed:
            for corner in (reach.line.coords[0], reach.line.coords[-1]):
                ends.setdefault((round(corner[0], 6), round(corner[1], 6)), []).append(wide)
        else:
            corner = reach.line.coords[0]
            ends.setdefault((round(corner[0], 6), round(corner[1], 6)), []).extend([wide, wide])
    return [
        shapely.buffer(shapely.Point(corner), min(wide), quad_segs=QUAD_SEGS)
        for corner, wide in ends.items()
        if len(wide) > 1
    ]


def _tails(line: LineString, length: float) -> list[LineString]:
    """Straight runs on past both ends of a line, which keep its left and right apart there."""
    if line.is_closed:
        return []
    corners = shapely.get_coordinates(shapely.remove_repeated_points(line))
    out: list[LineString] = []
    for end, before in ((corners[0], corners[1]), (corners[-1], corners[-2])):
        step = end - before
        out.append(LineString([end, end + step / np.hypot(*step) * length]))
    return out


def _past_free_ends(reach: Reach, reaches: Sequence[Reach]) -> LineString:
    """Return the line drawn on past those of its ends that no other stretch touches."""
    corners = shapely.get_coordinates(reach.line)
    if reach.line.is_closed:
        return reach.line
    others = [r for r in reaches if r is not reach]
    first, last = (tail.coords[1] for tail in _tails(reach.line, PAST_THE_END_M))
    for at, corner in ((0, first), (-1, last)):
        end = shapely.Point(corners[0] if at == 0 else corners[-1])
        if all(r.line.distance(end) > r.half + BESIDE_M for r in others):
            corners = np.vstack([[corner], corners]) if at == 0 else np.vstack([corners, [corner]])
    return LineString(corners)


__all__ = [
    "BESIDE_M",
    "SIDES",
    "Reach",
    "bank_line",
    "channel",
    "downstream",
    "joined",
    "normals",
    "pieces",
    "side_ground",
    "square_ends",
]
