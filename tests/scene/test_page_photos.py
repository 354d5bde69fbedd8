"""Photographs on a page: pairs beside each other, their own shape kept, nothing clipped, what is missing said."""

import datetime as dt

import numpy as np
import pytest

from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.scene.build import build_scene
from farmmap.scene.label_places import MARK_MM, beside
from farmmap.scene.page_items import Picture, Shape, Text, Type
from farmmap.scene.page_photos import (
    bearing_words,
    how_to_words,
    photo_groups,
    photo_pages,
    photo_parts,
    points_table,
)
from farmmap.scene.page_stack import TALL_MM
from farmmap.scene.paper import paper_of
from farmmap.scene.scene import LabelLayer, MarkLayer
from farmmap.scene.styles import theme
from tests.conftest import days, small_farm
from tests.photo_files import write_photo
from tests.place import EAST, NORTH

TYPE = Type(theme("paper"), 1.0, lambda text, style: 0.5 * len(text) * style.size_mm)


@pytest.fixture
def folder(tmp_path):
    write_photo(tmp_path / "wide.jpg", 160, 90)
    write_photo(tmp_path / "tall.jpg", 160, 90, orientation=6)
    for name in ("a.jpg", "b.jpg", "c.jpg"):
        write_photo(tmp_path / name)
    return tmp_path


@pytest.fixture
def photographed():
    """Three photographs from the ford, one of them lost, two shapes from the gate, none from the hut, one from nowhere."""
    farm = small_farm()
    points = {
        "name": ["Ford", "Photo point 2", "Hut"],
        "bearing_deg": [44.0, 350.0, np.nan],
        "height_m": [1.5, np.nan, np.nan],
        "x": [EAST, EAST + 50, EAST + 90],
        "y": [NORTH, NORTH + 10, NORTH + 40],
    }
    photos = {
        "photo_point": [1, 1, 1, 2, 2, 0],
        "path": ["a.jpg", "b.jpg", "lost.jpg", "wide.jpg", "tall.jpg", "c.jpg"],
        "taken_on": days("2016-05-01", "2026-05-02", "2020-01-01", "2024-02-03", "2024-02-03", ""),
        "caption": ["Bare bank", "Planted", "", "Wide.", "", "A long caption " * 30],
    }
    return farm.with_tables(
        photo_points=shaped(TABLES["photo_points"], points, np.array([1, 2, 3]), farm.grid),
        photos=shaped(TABLES["photos"], photos, np.arange(1, 7), farm.grid),
    )


def pictures(boxes):
    return [item for box in boxes for item in box.items if isinstance(item, Picture)]


def rows_of_photographs(farm, folder):
    """The rows of one page large enough for all of them, without its head."""
    (page,) = photo_pages(farm, folder, paper_of("A4", landscape=False), "Photographs", TYPE)
    return page[1:]


def test_what_has_no_day_is_neither_before_nor_after(photographed, folder):
    photos = photographed.tables["photos"]
    undated = photos.assign(taken_on=days("2016-05-01", "2026-05-02", "", "2024-02-03", "", "").astype("datetime64[s]"))
    ford, gate, _ = photo_groups(photographed.with_tables(photos=undated.astype(photos.dtypes)), folder)
    assert [(shot.photo.path.name, shot.role) for shot in ford.shots] == [
        ("a.jpg", "before"),
        ("b.jpg", "after"),
        ("lost.jpg", ""),
    ]
    assert [shot.role for shot in gate.shots] == ["", ""]


def test_photographs_of_points_that_are_gone_are_further_ones_together(photographed, folder):
    photos = photographed.tables["photos"]
    lost = photos.assign(photo_point=[8, 0, 9, 8, 0, 9]).astype(photos.dtypes)
    (group,) = photo_groups(photographed.with_tables(photos=lost), folder)
    assert group.heading == "Photographs"
    assert [shot.number for shot in group.shots] == [1, 2, 3, 4, 5, 6]
    assert {shot.role for shot in group.shots} == {""}


def test_before_and_after_come_first_then_those_between(photographed, folder):
    ford, gate, others = photo_groups(photographed, folder)
    assert (ford.heading, ford.words) == (
        "Photo point Ford",
        "looking north-east (44° from grid north), camera 1.5 m above the ground",
    )
    assert [shot.words for shot in ford.shots] == [
        "1. Before, 1 May 2016. Bare bank",
        "2. After, 2 May 2026. Planted",
        "3. 1 January 2020",
    ]
    assert [shot.role for shot in gate.shots] == ["", ""]  # both of one day
    assert [shot.number for shot in (*gate.shots, *others.shots)] == [4, 5, 6]
    assert gate.heading == "Photo point 2"
    assert others.heading == "Further photographs"


@pytest.mark.parametrize(
    ("bearing", "words"),
    [
        (0, "north"),
        (22, "north"),
        (23, "north-east"),
        (180, "south"),
        (337, "north-west"),
        (338, "north"),
        (360, "north"),
    ],
)
def test_bearings_in_words(bearing, words):
    assert bearing_words(bearing) == f"looking {words}"
    assert bearing_words(float("nan")) == ""


def test_pictures_keep_their_shape_and_pairs_stand_beside_each_other(photographed, folder):
    boxes = rows_of_photographs(photographed, folder)
    shown = pictures(boxes)
    shapes = {item.path.rpartition("/")[2]: item.width / item.height for item in shown}
    assert shapes == pytest.approx(
        {"a.jpg": 4 / 3, "b.jpg": 4 / 3, "wide.jpg": 16 / 9, "tall.jpg": 9 / 16, "c.jpg": 4 / 3}, rel=1e-6
    )
    before, after = shown[:2]
    assert (before.y, before.height) == (after.y, after.height)
    assert before.x + before.width < after.x
    for box in boxes:
        right = box.x + box.width + 1e-6
        for item in box.items:
            if isinstance(item, Picture):
                assert box.x <= item.x < item.x + item.width <= right
            if isinstance(item, Text):
                assert item.x + TYPE.width(item.text, item.style) * (item.align == "left") <= right
                assert item.y <= box.y + box.height


def test_what_is_not_there_is_an_empty_frame_with_words(photographed, folder):
    boxes = rows_of_photographs(photographed, folder)
    texts = " ".join(item.text for box in boxes for item in box.items if isinstance(item, Text))
    assert "lost.jpg is not in" in texts
    assert sum(isinstance(item, Shape) for box in boxes for item in box.items) == 1
    assert not pictures(rows_of_photographs(photographed, None))


def test_parts_shrink_where_room_is_short(photographed, folder):
    ford, gate, _ = photo_parts(photographed, folder, TYPE)
    for part in (ford, gate):
        natural = part.natural(70.0)
        assert part.least(70.0) < natural
        box = part.make(70.0, 0.75 * natural)
        assert box.height <= 0.75 * natural
        assert box.height >= part.least(70.0)
        assert all(item.x + item.width <= 70.0 + 1e-6 for item in pictures([box]))
        assert part.make(70.0, TALL_MM).width == 70.0


@pytest.mark.parametrize(("paper", "landscape"), [("A4", False), ("A4", True), ("A3", True), ("A6", False)])
def test_pages_hold_every_photograph_inside_their_margins(photographed, folder, paper, landscape):
    sheet = paper_of(paper, landscape=landscape)
    pages = photo_pages(photographed, folder, sheet, "Photographs", TYPE)
    boxes = [box for page in pages for box in page]
    assert len(pictures(boxes)) == 5
    for box in boxes:
        assert box.x >= 10
        assert box.x + box.width <= sheet.width_mm - 10 + 1e-6
        assert box.y + box.height <= sheet.height_mm - 10 + 1e-6
    for page in pages:
        below = 0.0
        for box in page:
            assert box.y >= below - 1e-6
            below = box.y + box.height


def test_a_farm_without_photographs_has_no_pages(farm, tmp_path):
    assert photo_pages(farm, tmp_path, paper_of("A4", landscape=False), "None", TYPE) == ()
    assert photo_parts(farm, tmp_path, TYPE) == ()


def test_the_table_of_points(photographed):
    table = points_table(photographed)
    assert [row[0] for row in table.cells] == ["Ford", "Photo point 2", "Hut"]
    assert table.cells[0][1] == "44"
    assert table.cells[2][1] == "–"
    assert [row[-2:] for row in table.cells] == [("3", "2 May 2026"), ("2", "3 February 2024"), ("0", "–")]
    assert "stand to the north of what you photograph" in how_to_words(photographed)


def test_points_stand_on_the_map_with_name_and_bearing(photographed):
    scene = build_scene(photographed, dt.date(2025, 1, 1))
    (layer,) = [one for one in scene.layers if isinstance(one, MarkLayer) and one.name == "photo_points"]
    assert layer.ids.tolist() == [1, 2, 3]
    np.testing.assert_array_equal(layer.turns_deg, [44.0, 350.0, np.nan])
    (entry,) = [entry for entry in scene.key if entry.layer == "photo_points"]
    assert (entry.words, entry.count) == ("photo point", 3)
    assert {"Ford", "Photo point 2", "Hut"} <= scene.texts
    without = build_scene(photographed, dt.date(2025, 1, 1), hidden=frozenset({"photo_points"}))
    assert "Ford" not in without.texts
    labels = [one for one in without.layers if isinstance(one, LabelLayer)]
    assert labels
    assert not [one for one in without.layers if one.name == "photo_points"]


@pytest.mark.parametrize("turn", [0, 15, 45, 90, 132, 200, 254, 300, 359])
def test_a_name_does_not_stand_on_its_sign(turn):
    """The sign is an angle of 50 degrees, 4 mm long; what it covers is looked at point by point."""
    free = 0
    for _, x, y, width, height, _ in beside("Creek bend", 0.0, 0.0, MARK_MM, (14.0, 2.5), float(turn)):
        free += 1
        for along in np.linspace(0.5, 4.0, 30):
            for bearing in np.radians(turn + np.linspace(-25, 25, 21)):
                right, down = along * np.sin(bearing), -along * np.cos(bearing)
                assert abs(right - x) >= width / 2 - 0.1 or abs(down - y) >= height / 2 - 0.1
    assert free >= 3
