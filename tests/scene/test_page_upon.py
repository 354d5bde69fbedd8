"""What a page draws upon a map has no name below it."""

import datetime as dt

import pytest
import shapely

from farmmap.scene.build import build_scene
from farmmap.scene.labels import place
from farmmap.scene.page_items import Disc, Shape, Text
from farmmap.scene.page_upon import names_clear_of
from farmmap.scene.paper import paper_of
from farmmap.scene.scene import LabelLayer
from farmmap.scene.sheet_layout import page_type
from farmmap.scene.styles import theme
from farmmap.scene.view import View
from tests.scene.made_farm import made_farm
from tests.scene.test_labels import measure

TYPE = page_type(paper_of("A4", landscape=False), theme("paper"), lambda text, style: 0.5 * style.size_mm * len(text))


@pytest.mark.parametrize("rotation", [0.0, 30.0])
def test_names_are_written_beside_what_lies_upon_the_map(rotation):
    scene = build_scene(made_farm(), dt.date(2025, 1, 1), theme="paper")
    west, south, east, north = scene.bounds
    scale = max(east - west, north - south) / 150
    view = View((west + east) / 2, (south + north) / 2, scale, 170.0, 170.0, rotation)
    names = labels(scene, view)
    assert names
    one = names[0]
    frame = Shape(
        ((one.x_mm - 9, one.y_mm), (one.x_mm + 9, one.y_mm), (one.x_mm + 9, one.y_mm + 12)), line="#000000", line_mm=0.5
    )
    items = (frame, Disc(85.0, 85.0, 20.0, "", 0.0, "#000000"), Text(30.0, 40.0, "way in", TYPE.body, "middle"))
    drawn = [
        shapely.LineString(frame.points), shapely.box(75, 75, 95, 95),
        shapely.box(30 - TYPE.width("way in", TYPE.body) / 2, 40 - TYPE.body.size_mm, 32, 40),
    ]  # fmt: skip
    made = names_clear_of(scene, items, view, TYPE)
    for name in labels(made, view):
        assert not any(shapely.Polygon(name.corners()).intersects(shape) for shape in drawn), name.text
    assert names_clear_of(scene, (), view, TYPE) is scene


def labels(scene, view):
    (layer,) = [layer for layer in scene.layers if isinstance(layer, LabelLayer)]
    return place(layer, view, measure)
