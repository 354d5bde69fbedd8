import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.farm import shaped
from farmmap.farm.schema import BLOCKS, NOTES
from farmmap.scene.build import build_scene
from farmmap.scene.label_about import cells_about
from farmmap.scene.label_places import places
from farmmap.scene.label_room import LabelRoom
from farmmap.scene.labels import EDGE_MM, place
from farmmap.scene.scene import LabelLayer, Wording
from farmmap.scene.styles import theme
from farmmap.scene.view import View
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
STYLES = theme("paper").texts


def measure(text, style):
    lines = text.split("\n")
    return max(map(len, lines)) * style.size_mm * 0.5, style.size_mm * (0.92 + 1.15 * (len(lines) - 1))


def labels_of(scene, view):
    (layer,) = [layer for layer in scene.layers if isinstance(layer, LabelLayer)]
    return place(layer, view, measure)


def assert_apart_and_inside(labels, view):
    shapes = [shapely.union_all(shapely.polygons(label.outlines())) for label in labels]
    frame = shapely.box(EDGE_MM - 1e-6, EDGE_MM - 1e-6, view.width_mm - EDGE_MM + 1e-6, view.height_mm - EDGE_MM + 1e-6)
    assert all(frame.covers(shape) for shape in shapes)
    for one, shape in enumerate(shapes):
        assert not any(shape.intersects(other) for other in shapes[one + 1 :])


@pytest.mark.parametrize("zoom", [0.3, 1.0, 2.5, 7.0, 25.0])
@pytest.mark.parametrize(("blocks", "names"), [(1, "B"), (12, "Long Terrace above the Woolshed"), (60, "Block")])
def test_names_never_touch_each_other_or_the_edge(blocks, names, zoom):
    farm = made_farm(blocks, 300, names=names)
    view = View.fitting(farm.bounds(), 250.0, 180.0).zoomed(zoom, (110.0, 70.0))
    labels = labels_of(build_scene(farm, ON, theme="paper"), view)
    assert_apart_and_inside(labels, view)


def test_block_names_lie_in_their_blocks_when_there_is_room():
    farm = made_farm(6, 0)
    view = View.fitting(farm.bounds(), 400.0, 300.0)
    labels = {label.text.replace("\n", " "): label for label in labels_of(build_scene(farm, ON, theme="paper"), view)}
    for name, shape in zip(farm.blocks["name"], farm.blocks.geometry, strict=True):
        x, y = view.to_ground(labels[name].x_mm, labels[name].y_mm)
        assert shape.distance(shapely.Point(float(x), float(y))) < 2 * view.metres_per_mm, name


def test_creek_names_follow_their_creek_and_read_from_the_left():
    farm = made_farm(0, 0)
    view = View.fitting(farm.bounds(), 400.0, 300.0)
    labels = {label.text: label for label in labels_of(build_scene(farm, ON, theme="paper"), view)}
    for name, shape in zip(farm.creeks["name"], farm.creeks.geometry, strict=True):
        label = labels[name]
        x, y = view.to_ground(*label.corners().T)
        away = shapely.distance(shape, shapely.points(x, y)) / view.metres_per_mm
        assert away.min() < 3.0
        assert away.max() < 8.0
        assert -90 <= label.angle_deg <= 90


def test_the_more_important_name_wins_the_room():
    def wording(text, importance):
        return Wording(text, STYLES["blocks"], importance, np.array([[0.0, 0.0]]), False, 6.5)

    layer = LabelLayer(
        (wording("First", 2.0), wording("Second name too long for what is left", 1.0)), None, STYLES["tags"]
    )
    placed = place(layer, View(0, 0, 1.0, 24.0, 8.0), measure)
    assert [label.text for label in placed] == ["First"]


def test_small_and_far_things_are_not_named():
    near = Wording("Fence", STYLES["fences"], 1.0, np.array([[-90.0, 0], [90, 0]]), True, 180.0, farthest_m_per_mm=2.0)
    small = Wording("Dot", STYLES["blocks"], 1.0, np.array([[0.0, 30]]), False, 3.0)
    layer = LabelLayer((near, small), None, STYLES["tags"])
    assert [label.text for label in place(layer, View(0, 0, 1.0, 100, 80), measure)] == ["Fence"]
    assert place(layer, View(0, 0, 2.5, 100, 80), measure) == []


def test_a_wide_creek_carries_its_name_between_its_banks():
    line = np.array([[-90.0, 0], [90, 0]])
    wide = Wording("Sedge Creek", STYLES["creeks"], 1.0, line, True, 180.0, width_m=30.0)
    (inside,) = place(LabelLayer((wide,), None, STYLES["tags"]), View(0, 0, 1.0, 100, 80), measure)
    (beside,) = place(
        LabelLayer((replace(wide, width_m=1.0),), None, STYLES["tags"]), View(0, 0, 1.0, 100, 80), measure
    )
    assert inside.y_mm == pytest.approx(40.0)
    assert abs(beside.y_mm - 40.0) > beside.height_mm / 2


def test_tags_are_written_beside_their_trees_when_near(hill_farm):
    scene = build_scene(hill_farm, ON, theme="paper", hidden=frozenset({"species:PRAD"}))
    trees = next(layer for layer in scene.layers if layer.name == "trees")
    view = View(float(trees.x[700]), float(trees.y[700]), 0.3, 120.0, 90.0)
    labels = labels_of(scene, view)
    assert_apart_and_inside(labels, view)
    tags = {label.text: label for label in labels if label.style is scene.theme.texts["tags"]}
    rows = hill_farm.trees.set_index("tag")
    assert tags
    for tag, label in tags.items():
        x, y = (float(v) for v in view.to_mm(rows.loc[tag, "x"], rows.loc[tag, "y"]))
        assert np.hypot(label.x_mm - x, label.y_mm - y) < 12
        assert rows.loc[tag, "species"] != "PRAD"
    far = labels_of(scene, View.fitting(hill_farm.bounds(), 200, 150))
    assert not any(label.style is scene.theme.texts["tags"] for label in far)


@given(st.floats(-180, 180), st.floats(1, 40), st.floats(1, 10))
def test_corners_keep_the_size_of_the_label(angle, width, height):
    (layer,) = [LabelLayer((), None, STYLES["tags"])]
    assert place(layer, View(0, 0, 1, 10, 10), measure) == []
    from farmmap.scene.labels import Label

    corners = Label("x", STYLES["tags"], 50, 40, width, height, angle).corners()
    assert shapely.Polygon(corners).area == pytest.approx(width * height)
    assert corners.mean(axis=0) == pytest.approx([50, 40])


def planted_strips():
    """A farm whose blocks are eight strips of one plan along a line, 2 m wide, with a gate and a trough."""
    farm = made_farm(0, 0)
    west, south = farm.bounds()[:2]
    names = [
        f"Lower Sedge: {zone}, {bank}" for bank in ("left", "right") for zone in ("Edge", "Bank", "Upper", "Grass")
    ]
    strips = [shapely.box(west + 100, south + 300 + 2 * row, west + 160, south + 302 + 2 * row) for row in range(8)]
    blocks = shaped(
        BLOCKS, {"name": names, "plan": ["Lower Sedge"] * 8, "geometry": strips}, np.arange(1, 9), farm.grid
    )
    places = [shapely.Point(west + 110, south + 320), shapely.Point(west + 150, south + 330)]
    values = {"heading": ["Gate, 4 m", "Trough"], "plan": ["Lower Sedge"] * 2, "geometry": places}
    return farm.with_tables(blocks=blocks, notes=shaped(NOTES, values, np.arange(1, 3), farm.grid))


def test_a_plan_is_named_once_and_its_zones_where_there_is_room_in_them():
    farm = planted_strips()
    scene = build_scene(farm, ON, theme="paper")
    x, y = shapely.get_coordinates(farm.blocks.geometry.iloc[4].centroid)[0]

    def named(metres_per_mm):
        view = View(x, y, metres_per_mm, 250.0, 180.0)
        labels = labels_of(scene, view)
        assert_apart_and_inside(labels, view)
        return [label.text.replace("\n", " ") for label in labels]

    for metres_per_mm in (1.0, 3.0):
        said = named(metres_per_mm)
        assert said.count("Lower Sedge") == 1
        assert not {"Edge, left", "Edge, right", "Grass, right"} & set(said)
        assert ("Trough" in said) == (metres_per_mm == 1.0)
    assert {"Edge, right", "Upper, left", "Lower Sedge"} <= set(named(0.3))


def test_a_strip_of_a_block_is_named_beside_it_and_not_over_it():
    strip = Wording("Mile 1", STYLES["blocks"], 3.0, np.array([[0.0, 0.0]]), False, 40.0, width_m=1.0)
    (beside,) = place(LabelLayer((strip,), None, STYLES["tags"]), View(0, 0, 1.0, 100, 80), measure)
    assert abs(beside.y_mm - 40.0) > (beside.height_mm + 1.0) / 2
    (upon,) = place(
        LabelLayer((replace(strip, width_m=20.0),), None, STYLES["tags"]), View(0, 0, 1.0, 100, 80), measure
    )
    assert upon.y_mm == 40.0


def test_a_mark_is_not_written_upon_and_its_name_finds_another_side():
    mark = Wording("Old well", STYLES["notes"], 1.5, np.array([[0.0, 38.0]]), False, np.inf)
    (below,) = place(LabelLayer((mark,), None, STYLES["tags"]), View(0, 0, 1.0, 100, 80), measure)
    left, top, right, bottom = shapely.Polygon(below.corners()).bounds
    assert not (left < 51.4 and right > 48.6 and top < 3.4 and bottom > 0.6)


def test_a_very_long_name_is_broken_and_shortened_but_known_by_its_whole():
    whole = ("The paddock beyond the old woolshed " * 6).strip()
    area = Wording(whole, STYLES["blocks"], 3.0, np.array([[0.0, 0.0]]), False, 90.0)
    (label,) = place(LabelLayer((area,), None, STYLES["tags"]), View(0, 0, 1.0, 150, 80), measure)
    assert label.text.count("\n") == 2
    assert label.text.endswith("…")
    assert label.name == whole


def test_one_name_makes_way_for_another_that_has_fewer_places():
    first = Wording("Terrace", STYLES["blocks"], 3.0, np.array([[0.0, 0.0]]), False, 30.0)
    line = Wording(
        "Sedge Creek", STYLES["creeks"], 1.0, np.array([[-14.0, 1.0], [14.0, 1.0]]), True, 28.0, width_m=30.0
    )
    placed = place(LabelLayer((first, line), None, STYLES["tags"]), View(0, 0, 1.0, 30.0, 24.0), measure)
    assert [label.text for label in placed] == ["Terrace", "Sedge Creek"]
    alone = place(LabelLayer((first,), None, STYLES["tags"]), View(0, 0, 1.0, 30.0, 24.0), measure)
    assert placed[0].y_mm != alone[0].y_mm


@given(
    st.text("ab ", min_size=1, max_size=50).map(str.strip).filter(bool),
    st.tuples(st.floats(-20, 260), st.floats(-20, 200)),
    st.floats(3.0, 900.0),
    st.floats(0.05, 30.0),
)
def test_places_worked_out_together_are_those_that_come_one_by_one(text, at, room_m, metres_per_mm):
    wording = Wording(text, STYLES["blocks"], 1.0, np.zeros((1, 2)), along=False, room_m=room_m)
    view = View(0.0, 0.0, metres_per_mm, 250.0, 180.0)
    room, gap = LabelRoom(250.0, 180.0), 0.6
    along = replace(wording, along=True)
    cells, nothing = cells_about([(wording, *at), (along, *at)], metres_per_mm, measure, room, gap)
    assert nothing is None
    found = list(places(wording, *at, view, measure))
    _, x, y, width, height, angle = (np.array([one[part] for one in found]) for part in range(6))
    assert not np.any(angle)
    if found:
        assert cells == room.cells_of(x[None], y[None], (width + gap)[None], (height + gap)[None])[0].tolist()
    else:
        assert cells == [[], [], [], []]
