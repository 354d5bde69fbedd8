"""The invented ground of Pipit Downs: its creeks, hills, boundary, blocks, fences, tracks and hazards.

Everything is drawn in metres from a corner of the farm and set down on
EPSG:2193. Blocks are cut out of one net of lines, so that an edge between two
blocks is the same line for both.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import polygonize

EPSG = 2193
CORNER = (1_811_300.0, 5_477_450.0)
"""East and north of the corner from which the farm is drawn. [m]"""

MARGIN_M = 10.0
SEDGE_CHANNEL_M = 3.6
RUSH_CHANNEL_M = 1.2
MOUTH_M = 142.0
"""Height at which Sedge Creek leaves the farm. [m]"""

SEDGE_FALL, RUSH_FALL = 0.011, 0.055
"""Fall of the creeks, metre for metre."""

GRAIN_M = 0.01
"""All corners lie on whole centimetres."""

_CORNERS: dict[str, tuple[float, float]] = {
    "a": (70, 590), "b": (210, 572), "c": (335, 600), "d": (362, 760), "e": (230, 790), "f": (80, 772),
    "g": (226, 908), "h": (74, 896), "i": (378, 862), "j": (470, 700), "k": (600, 712), "l": (662, 800),
    "m": (572, 884), "n": (482, 892), "o": (446, 800), "p": (900, 806), "q": (1002, 790), "r": (1012, 882),
    "s": (906, 888), "t": (1088, 774), "u": (1106, 870), "v": (735, 640), "w": (852, 618), "x": (878, 694),
    "y": (735, 724), "z": (902, 602), "za": (1022, 588), "zb": (1034, 652), "zc": (906, 666),
}  # fmt: skip

_OUTLINES: dict[str, list[str] | list[tuple[float, float]]] = {
    "Poplar Face": ["a", "b", "c", "d", "e", "f"],
    "Ridge Pines": ["f", "e", "g", "h"],
    "North Terrace": ["e", "d", "i", "g"],
    "Kānuka Remnant": ["j", "k", "l", "m", "n", "o"],
    "Lusitanica Corner": ["p", "q", "r", "s"],
    "Stringybark Spur": ["q", "t", "u", "r"],
    "Blackwood Gully": ["v", "w", "x", "y"],
    "Tōtara Terrace": ["z", "za", "zb", "zc"],
    "Road Shelterbelt": [(1335, 600), (1346, 601), (1334, 882), (1323, 880)],
    "Home Woodlot": [(1080, 180), (1182, 174), (1190, 242), (1086, 252)],
    "Walnut Rows": [(330, 178), (484, 168), (494, 270), (338, 286)],
    "Lower Flat": [(600, 292), (740, 284), (752, 440), (592, 440)],
}


@dataclass(frozen=True)
class Ground:
    """The ground of the farm, all shapes on EPSG:2193.

    Attributes
    ----------
    boundary : Polygon
        Outline of the farm.
    sedge, rush : LineString
        Centre lines of Sedge Creek and of Rush Gully, which joins it, both drawn the way the water runs.
    blocks : dict of str to Polygon
        Outlines of the blocks by name.
    fences, tracks : dict of str to LineString
        By name.
    hazards : dict of str to geometry
        By name.
    """

    boundary: Polygon
    sedge: LineString
    rush: LineString
    blocks: dict[str, Polygon]
    fences: dict[str, LineString]
    tracks: dict[str, LineString]
    hazards: dict[str, BaseGeometry]


def ground() -> Ground:
    """Return the ground of Pipit Downs."""
    sedge, rush = _creeks()
    boundary = _polygon(
        [(10, 40), (380, -12), (900, 12), (1392, 70), (1428, 560), (1384, 1050), (980, 1116), (450, 1092), (50, 1022),
         (-16, 520)]
    )  # fmt: skip
    margin = shapely.union_all(
        [
            sedge.buffer(SEDGE_CHANNEL_M / 2 + MARGIN_M, quad_segs=4),
            rush.buffer(RUSH_CHANNEL_M / 2 + MARGIN_M, quad_segs=4),
        ]
    ).simplify(0.2)
    return Ground(
        boundary=boundary,
        sedge=sedge,
        rush=rush,
        blocks=_blocks(boundary, sedge, rush, margin),
        fences=_fences(boundary, margin, sedge),
        tracks={
            "Woolshed Track": _line(
                [(1410, 128), (1240, 120), (1130, 150), (1060, 240), (1046, 330), (1058, 460), (1120, 560), (1150, 700)]
            ),
            "Ridge Track": _line(
                [(1150, 700), (1140, 830), (1060, 915), (860, 930), (700, 985), (560, 960), (430, 900), (340, 830),
                 (250, 842), (160, 850), (60, 830)]
            ),
        },
        hazards={
            "Valley power line": _line([(40, 1060), (320, 985), (640, 905), (950, 838), (1420, 690)]),
            "Woolshed": _polygon([(1118, 118), (1142, 116), (1143.2, 130), (1119.2, 132)]),
            "Stock water pipe": _line([(1130, 132), (1010, 150), (820, 120), (560, 150), (420, 120), (200, 190)]),
            "Flat drain": _line([(640, 90), (668, 200), (676, 300), (690, 388)]),
        },
    )  # fmt: skip


def elevation_m(where: Ground, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the height of the ground at points, shape as ``x``: creeks lie in valleys, hills between. [m]"""  # noqa: D400
    points = shapely.points(x, y)
    joins_m = where.sedge.length - where.sedge.project(Point(where.rush.coords[-1]))
    floors = []
    for creek, mouth_m, fall in (
        (where.sedge, MOUTH_M, SEDGE_FALL),
        (where.rush, MOUTH_M + SEDGE_FALL * joins_m, RUSH_FALL),
    ):
        left_m = creek.length - shapely.line_locate_point(creek, points)
        away_m = shapely.distance(creek, points)
        rise = 0.06 * away_m + 80 * (1 - np.exp(-((away_m / 210) ** 1.7)))
        floors.append(mouth_m + fall * left_m + rise)
    u, v = x - CORNER[0], y - CORNER[1]
    rolling = 5 * np.sin(u / 95 + 0.6) * np.cos(v / 120) + 2.5 * np.sin((u + 1.7 * v) / 61)
    near = shapely.distance(shapely.union_all([where.sedge, where.rush]), points)
    return np.minimum(*floors) + rolling * np.clip((near - 15) / 120, 0, 1)


def _creeks() -> tuple[LineString, LineString]:
    u = np.arange(-60.0, 1465.0, 12.0)
    v = 430 + 48 * np.sin(2 * np.pi * u / 430 + 0.4) + 17 * np.sin(2 * np.pi * u / 190 + 1.3) - 0.04 * (u - 700)
    sedge = _line(np.column_stack([u, v]))
    mouth = np.array([u[72], v[72]])
    t = np.linspace(0, 1, 60)[:, None]
    straight = (1 - t) * np.array([470.0, 1130.0]) + t * mouth
    sway = (24 * np.sin(2 * np.pi * 2.6 * t) + 9 * np.sin(2 * np.pi * 6.3 * t)) * np.clip(4 * (1 - t), 0, 1)
    return sedge, _line(straight + sway * np.array([0.89, 0.45]))


def _blocks(
    boundary: Polygon, sedge: LineString, rush: LineString, margin: BaseGeometry
) -> dict[str, Polygon]:  # fmt: skip
    channel = shapely.union_all([sedge.buffer(SEDGE_CHANNEL_M / 2), rush.buffer(RUSH_CHANNEL_M / 2)])
    wanted: dict[str, BaseGeometry] = {
        name: _polygon([_CORNERS[c] if isinstance(c, str) else c for c in corners])
        for name, corners in _OUTLINES.items()
    }
    shores = {"Sedge Left Bank": (250, 724, "left"), "Sedge Right Bank": (560, 1000, "right")}
    for name, (start, end, side) in shores.items():
        reach = box(CORNER[0] + start, CORNER[1] + 200, CORNER[0] + end, CORNER[1] + 620)
        across = 40 if side == "left" else -40
        wanted[name] = reach.intersection(margin).intersection(sedge.buffer(across, single_sided=True))
    lower = shapely.set_precision(wanted["Lower Flat"].difference(sedge.buffer(60, single_sided=True)), GRAIN_M)
    wanted["Lower Flat"] = lower
    net = [boundary.exterior, margin.boundary, channel.boundary, *(shape.boundary for shape in wanted.values())]
    faces = list(polygonize(shapely.union_all(shapely.set_precision(net, GRAIN_M), grid_size=GRAIN_M)))
    inner = shapely.point_on_surface(faces)
    dry = ~shapely.intersects(channel, inner)
    taken = np.zeros(len(faces), bool)
    out: dict[str, Polygon] = {}
    for name, shape in wanted.items():
        of_it = shapely.contains(shape, inner) & dry & ~taken
        if name not in {*shores, "Kānuka Remnant"}:  # the bush grows down to the water
            of_it &= ~shapely.intersects(margin, inner)
        taken |= of_it
        whole = shapely.union_all([face for face, is_in in zip(faces, of_it, strict=True) if is_in])
        out[name] = max(shapely.get_parts(whole), key=lambda part: part.area)
    return out


def _fences(boundary: Polygon, margin: BaseGeometry, sedge: LineString) -> dict[str, LineString]:
    edges = shapely.get_parts(shapely.line_merge(margin.boundary))
    north = sedge.buffer(30, single_sided=True)

    def along(side: BaseGeometry, start: float, end: float) -> LineString:
        reach = box(CORNER[0] + start, CORNER[1] + 200, CORNER[0] + end, CORNER[1] + 620)
        parts = [part for edge in edges for part in shapely.get_parts(edge.intersection(reach).intersection(side))]
        lines = shapely.get_parts(shapely.line_merge(shapely.MultiLineString([p for p in parts if p.length > 0])))
        return shapely.set_precision(max(lines, key=lambda line: line.length), GRAIN_M)

    south = sedge.buffer(-30, single_sided=True)
    return {
        "Boundary fence": shapely.LineString(boundary.exterior.coords),
        "Creek fence, left bank": along(north, 130, 730),
        "Creek fence, right bank": along(south, 540, 1010),
        "Creek fence, right bank, next stage": along(south, 1010, 1330),
        "Poplar Face fence": _line([(70, 590), (210, 572), (335, 600), (362, 760)]),
        "Remnant fence": _line([(470, 700), (446, 800), (482, 892), (572, 884)]),
        "Flat fence": _line([(330, 178), (338, 286), (494, 270), (484, 168), (330, 178)]),
    }


def _place(points: object) -> NDArray[np.float64]:
    return np.round(np.asarray(points, float) + CORNER, 2)


def _line(points: object) -> LineString:
    return LineString(_place(points))


def _polygon(points: object) -> Polygon:
    return Polygon(_place(points))
