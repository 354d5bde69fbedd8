"""Ground put together: what union_all of GEOS 3.14.1 loses, and random ground held against a way without any overlay."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import assume, given
from hypothesis import strategies as st

from farmmap.figures import united as of_united
from farmmap.figures.united import united, without_on_a_grid
from tests.place import EAST, NORTH

ONE_END = ("542F0ECE8C6E13C02762026EEF14FE3F", "552F0ECE8C6E13C02862026EEF14FE3F")
OTHER_END = "A798ED98DAF131C0D8294A9154C81B40"
TOUCHING = shapely.from_wkb(
    [
        f"01030000000100000004000000{corners}"
        for corners in (
            f"99B15EFA2E3522C06419A1E80A192640{ONE_END[0]}{OTHER_END}99B15EFA2E3522C06419A1E80A192640",
            f"{OTHER_END}{ONE_END[1]}D2126E069FE238C0B88D02CAD0080440{OTHER_END}",
        )
    ]
)
"""Two triangles, 49.24 and 46.64 m², along one side of both, whose one end differs by the last bit of its numbers."""

PLAIN = {
    "union_all": shapely.union_all,
    "union": lambda shapes: shapely.union(*shapes),
    "by subsets": shapely.disjoint_subset_union_all,
}


def covered_m2(shapes: Sequence[shapely.Geometry]) -> float:
    """Return the area under shapes, by level lines across them and without any overlay.

    Between one level at which a corner lies or sides cross and the next, the length under shapes changes evenly, so the
    length halfway counts for all of it.
    """
    rings = shapely.get_rings(shapely.get_parts(shapes))
    owner = shapely.get_rings(shapely.get_parts(shapes), return_index=True)[1]
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    side = ring[1:] == ring[:-1]
    begin, end, of = corners[:-1][side], corners[1:][side], owner[ring[1:][side]]
    step = end - begin
    turn = step[:, None, 0] * step[None, :, 1] - step[:, None, 1] * step[None, :, 0]
    away = begin[None] - begin[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        on = (away[..., 0] * step[None, :, 1] - away[..., 1] * step[None, :, 0]) / turn
    one, other = np.nonzero((on > 0) & (on < 1) & np.isfinite(on))
    levels = np.unique(np.concatenate([corners[:, 1], begin[one, 1] + on[one, other] * step[one, 1]]))
    halfway, high = (levels[1:] + levels[:-1]) / 2, np.diff(levels)
    piece, line = np.nonzero((begin[:, None, 1] <= halfway) != (end[:, None, 1] <= halfway))
    x = begin[piece, 0] + (halfway[line] - begin[piece, 1]) / step[piece, 1] * step[piece, 0]
    order = np.lexsort((x, of[piece], line))
    first, last, line = x[order][::2], x[order][1::2], line[order][::2]
    order = np.lexsort((first, line))
    first, last, line = first[order], last[order], line[order]
    apart = line * 1e3
    reached = np.maximum.accumulate(np.concatenate([[-np.inf], (last + apart)[:-1]])) - apart
    return float((np.maximum(last - np.maximum(first, reached), 0.0) * high[line]).sum())


def test_area_by_level_lines_is_right_itself() -> None:
    assert covered_m2([shapely.box(0, 0, 4, 2), shapely.box(3, 1, 6, 5)]) == pytest.approx(8 + 12 - 1, rel=1e-12)
    ring = shapely.Point(9, 9).buffer(5).difference(shapely.Point(9, 9).buffer(2))
    assert covered_m2([ring]) == pytest.approx(ring.area, rel=1e-12)
    assert covered_m2(TOUCHING) == pytest.approx(shapely.area(TOUCHING).sum(), rel=1e-9)


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_two_triangles_that_share_a_side_but_for_a_bit(order: tuple[int, int]) -> None:
    together = united(TOUCHING[list(order)])
    assert together.area == pytest.approx(shapely.area(TOUCHING).sum(), abs=1e-7)
    assert together.is_valid


@pytest.mark.skipif(shapely.geos_version != (3, 14, 1), reason="other versions of GEOS may have mended it")
def test_the_plain_ways_lose_ground_there() -> None:
    """Else `united` may do without its second and third way."""
    areas = {name: [plain(TOUCHING[list(order)]).area for order in ((0, 1), (1, 0))] for name, plain in PLAIN.items()}
    assert any(min(each) < 50 for each in areas.values()), areas
    assert min(areas["union_all"]) < 50


def test_ground_lost_among_pieces_that_overlap_is_found_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """The sum of the pieces does not tell then; the outlines do."""
    pieces = [*TOUCHING, shapely.Point(-12, 7).buffer(2.0)]
    wanted = covered_m2(pieces)
    assert united(pieces).area == pytest.approx(wanted, rel=1e-9)
    monkeypatch.setattr(of_united, "SAME_M", np.inf)  # whatever comes out first is taken
    assert united(pieces).area < wanted - 40


def test_what_the_plain_way_cannot_do_at_all_is_done_on_a_grid(monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(_: object) -> shapely.Geometry:
        raise shapely.GEOSException("side location conflict")

    monkeypatch.setattr(shapely, "disjoint_subset_union_all", refused)
    boxes = [shapely.box(EAST, NORTH, EAST + 10, NORTH + 10), shapely.box(EAST + 5, NORTH, EAST + 15, NORTH + 10)]
    ground = united(boxes)
    assert ground.area == pytest.approx(150, abs=1e-6)
    assert np.array(ground.bounds) == pytest.approx(np.array([EAST, NORTH, EAST + 15, NORTH + 10]), abs=1e-8)


def test_ground_less_other_ground_on_a_grid() -> None:
    left = without_on_a_grid(
        shapely.box(EAST, NORTH, EAST + 9, NORTH + 9), shapely.box(EAST + 3, NORTH, EAST + 9, NORTH + 5)
    )
    assert left.area == pytest.approx(81 - 30, abs=1e-7)
    assert left.bounds == (EAST, NORTH, EAST + 9, NORTH + 9)
    assert without_on_a_grid(TOUCHING[0], shapely.MultiPolygon([TOUCHING[0]])).is_empty


def test_no_ground_one_piece_and_what_is_no_ground() -> None:
    box = shapely.box(0, 0, 2, 3)
    assert united([]).is_empty
    assert united([None, shapely.Polygon()]).geom_type == "Polygon"
    assert united(box).equals(box)
    line = shapely.LineString([(0, 0), (9, 9)])
    assert united([line, box]).equals(box)
    assert united(shapely.GeometryCollection([line, box, shapely.box(1, 0, 4, 3)])).equals(shapely.box(0, 0, 4, 3))
    assert united(np.array([box, shapely.box(5, 5, 6, 6)], object)).geom_type == "MultiPolygon"


def test_holes_and_islands_in_them_stay() -> None:
    ring = shapely.Point(EAST, NORTH).buffer(20).difference(shapely.Point(EAST, NORTH).buffer(10))
    island = shapely.Point(EAST, NORTH).buffer(3)
    across = shapely.box(EAST + 9, NORTH - 1, EAST + 30, NORTH + 1)
    ground = united([ring, island, across])
    assert ground.area == pytest.approx(ring.area + island.area + across.difference(ring).area, rel=1e-12)
    assert len(shapely.get_parts(ground)) == 2


corner = st.tuples(st.integers(0, 30), st.integers(0, 30))
outlines = st.lists(corner, min_size=3, max_size=8).map(lambda corners: shapely.make_valid(shapely.Polygon(corners)))
discs = st.builds(lambda at, radius: shapely.Point(at).buffer(radius, quad_segs=4), corner, st.floats(0.5, 9.0))
rings = discs.map(lambda disc: disc.difference(shapely.affinity.scale(disc, 0.5, 0.5)))
grounds = st.lists(st.one_of(outlines, discs, rings), min_size=1, max_size=12)


@given(grounds, st.floats(0.0, 6.3), st.sampled_from([0.0, 1e-15, 1e-12, 1e-9]))
def test_random_ground_is_as_much_as_lines_across_it_say(
    shapes: list[shapely.Geometry], turn: float, off: float
) -> None:
    """Cut in two and turned, so that no corners are round numbers and many sides meet but for a few bits."""
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    halves = [shapely.box(-9, -9, 13, 39), shapely.box(13, -9, 39, 39)]
    parts = shapely.get_parts([shapely.intersection(one, half) for one, half in itertools.product(shapes, halves)])
    parts = parts[(shapely.get_type_id(parts) == shapely.GeometryType.POLYGON) & (shapely.area(parts) > 1e-3)]
    moved = [
        shapely.transform(part, lambda corners, shift=place % 2 * off: corners @ turned + shift)
        for place, part in enumerate(parts)
    ]
    assume(moved and shapely.is_valid(moved).all())
    ground = united(moved)
    assert ground.is_valid
    assert ground.geom_type in {"Polygon", "MultiPolygon"}
    assert ground.area == pytest.approx(covered_m2(moved), abs=1e-5)
