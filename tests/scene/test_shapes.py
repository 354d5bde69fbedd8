import numpy as np
import pytest
import shapely

from farmmap.scene.shapes import area_layer, line_layer, mark_layer
from farmmap.scene.styles import theme

LOOK = theme("paper")
HOLED = shapely.Polygon([(0, 0), (10, 0), (10, 10), (0, 10)], [[(4, 4), (6, 4), (6, 6), (4, 6)]])
TWO = shapely.MultiPolygon([shapely.box(20, 0, 30, 10), shapely.box(40, 0, 50, 10)])
BENT = shapely.LineString([(0, 0, 7), (5, 5, 7), (10, 0, 7)])


def test_areas_keep_their_holes_and_their_parts():
    layer = area_layer("blocks", LOOK.areas["blocks"], [7, 8], [HOLED, TWO])
    assert layer.ids.tolist() == [7, 8, 8]
    assert shapely.area(layer.shapes).tolist() == [96.0, 100.0, 100.0]
    assert layer.boxes.tolist() == [[0, 0, 10, 10], [20, 0, 30, 10], [40, 0, 50, 10]]


def test_other_kinds_of_shape_are_passed_over():
    shapes = [None, shapely.Point(1, 2), BENT, shapely.Polygon(), shapely.GeometryCollection([HOLED, TWO, BENT])]
    ids = [1, 2, 3, 4, 5]
    assert area_layer("hazards", LOOK.areas["building"], ids, shapes).ids.tolist() == [5, 5, 5]
    assert line_layer("hazards", LOOK.lines["other"], ids, shapes).ids.tolist() == [3, 5]
    marks = mark_layer("hazards", LOOK.marks["hazard"], ids, shapes)
    assert (marks.ids.tolist(), marks.x.tolist(), marks.y.tolist()) == ([2], [1.0], [2.0])


@pytest.mark.parametrize("make", [area_layer, line_layer, mark_layer])
def test_nothing_gives_no_layer(make):
    assert make("notes", None, [], []) is None
    assert make("notes", None, [1], [None]) is None


def test_lines_keep_their_width_and_lose_their_height():
    parts = shapely.MultiLineString([[(0, 0), (1, 1)], [(2, 2), (3, 3), (4, 4)]])
    layer = line_layer("creeks", LOOK.lines["creeks"], [1, 2, 3], [BENT, parts, parts], [2.5, np.nan, 3.0])
    assert layer.widths_m.tolist() == [2.5, 0.0, 0.0, 3.0, 3.0]
    assert shapely.get_num_points(layer.shapes).tolist() == [3, 2, 3, 2, 3]
    assert not shapely.has_z(layer.shapes).any()
