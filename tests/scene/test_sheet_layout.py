import datetime as dt
from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import pytest

from farmmap.figures.blocks import block_figures
from farmmap.figures.margins import margin_figures
from farmmap.scene.build import build_scene
from farmmap.scene.page_grid import coordinate
from farmmap.scene.page_items import Disc, Sampled, Shape, Text
from farmmap.scene.page_north import North
from farmmap.scene.page_tables import block_table, margin_table
from farmmap.scene.paper import PAPERS, paper_of
from farmmap.scene.scales import round_scale
from farmmap.scene.sheet_layout import MARGIN_MM, Content, page_type, plan_page
from farmmap.scene.styles import LEAST_TEXT_MM, theme
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
LONG = "Upper Terrace above the old Woolshed and beyond the second ford, northern part, number"
FARMS = {
    "no blocks": (0, "Block"),
    "one block": (1, "Block"),
    "twelve blocks": (12, "Block"),
    "sixty blocks": (60, "Block"),
    "long names": (12, LONG),
}


def measure(text, style):
    return len(text) * style.size_mm * 0.52


@pytest.fixture(scope="session", params=list(FARMS))
def content(request):
    count, names = FARMS[request.param]
    farm = made_farm(count, 400, names=names)
    scene = build_scene(farm, ON, theme="paper")
    tables = (block_table(block_figures(farm, ON), 1.4), margin_table(margin_figures(farm, ON)))
    title = "Pipit Downs" if names == "Block" else f"Pipit Downs, {LONG}, and the leased ground beyond the road"
    return Content(
        title,
        "Trees and figures as of 1 January 2025",
        scene.key,
        tuple(table for table in tables if table.cells),
        tuple(f"Sentence {number} about how a figure of these tables was worked out." for number in range(12)),
        "Living trees, diameters over bark.",
        ("This map is no survey, and no boundary on it is cadastral.", "Keep clear of the power line."),
        North(
            ("Grid north", "True north lies 1.64° east of it here.", "NZGD2000 / New Zealand Transverse Mercator 2000")
        ),
        scene.bounds,
    )


@cache
def planned(content, name, landscape, scale=None):
    paper = paper_of(name, landscape=landscape)
    return plan_page(paper, content, page_type(paper, theme("paper"), measure), scale)


LARGE = tuple(name for name in PAPERS if name <= "A4")
ALL = [(name, landscape) for name in LARGE for landscape in (False, True)]


def rectangle(box):
    return box.x, box.y, box.x + box.width, box.y + box.height


def extent(item):
    """Left, top, right and bottom of what an item covers."""
    match item:
        case Text():
            wide, high = measure(item.text, item.style), item.style.size_mm
            back = {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * wide
            if item.upright:
                return item.x - back, item.y - 0.72 * high, item.x - back + wide, item.y + 0.22 * high
            return item.x - 0.72 * high, item.y + back - wide, item.x + 0.22 * high, item.y + back
        case Shape():
            across, down = zip(*item.points, strict=True)
            return min(across), min(down), max(across), max(down)
        case Disc():
            radius = item.diameter / 2
            return item.x - radius, item.y - radius, item.x + radius, item.y + radius
        case Sampled():
            return item.x, item.y, item.x + item.width, item.y + item.height


def overlap(one, other):
    return (
        one[0] < other[2] - 1e-6 and other[0] < one[2] - 1e-6 and one[1] < other[3] - 1e-6 and other[1] < one[3] - 1e-6
    )


@pytest.mark.parametrize(("name", "landscape"), ALL)
def test_nothing_overlaps_or_leaves_its_place(content, name, landscape):
    plan = planned(content, name, landscape)
    left, top, wide, high = plan.frame
    places = {box.name: rectangle(box) for box in plan.boxes} | {"map": (left, top, left + wide, top + high)}
    assert len(places) == len(plan.boxes) + 1
    for box in places.values():
        assert box[0] >= MARGIN_MM - 1e-6
        assert box[1] >= MARGIN_MM - 1e-6
        assert box[2] <= plan.paper.width_mm - MARGIN_MM + 1e-6
        assert box[3] <= plan.paper.height_mm - MARGIN_MM + 1e-6
    for (first, one), (second, other) in combinations(places.items(), 2):
        assert not overlap(one, other), (first, second)
    for box in plan.boxes:
        inside = rectangle(box)
        for item in box.items:
            west, north, east, south = extent(item)
            assert min(west - inside[0], inside[2] - east) >= -0.3, (box.name, item)
            assert min(north - inside[1], inside[3] - south) >= -0.3, (box.name, item)


@pytest.mark.parametrize(("name", "landscape"), ALL)
def test_no_two_texts_lie_on_each_other(content, name, landscape):
    plan = planned(content, name, landscape)
    for box in plan.boxes:
        texts = [(extent(item), item.text) for item in box.items if isinstance(item, Text)]
        for (one, first), (other, second) in combinations(texts, 2):
            assert not overlap(one, other), (box.name, first, second)


@pytest.mark.parametrize(("name", "landscape"), ALL)
def test_type_is_large_enough_and_the_scale_round(content, name, landscape):
    plan = planned(content, name, landscape)
    assert all(
        item.style.size_mm >= LEAST_TEXT_MM for box in plan.boxes for item in box.items if isinstance(item, Text)
    )
    title = next(box for box in plan.boxes if box.name == "title").items[0]
    assert title.style.size_mm >= 10 / 72 * 25.4
    assert round_scale(plan.scale) == plan.scale
    assert plan.whole
    _, _, wide, high = plan.frame
    west, south, east, north = content.bounds
    assert (east - west) / plan.view.metres_per_mm <= wide
    assert (north - south) / plan.view.metres_per_mm <= high


def test_larger_paper_shows_the_farm_at_least_as_large(content):
    scales = [min(planned(content, name, way).scale for way in (False, True)) for name in sorted(LARGE, reverse=True)]
    assert scales == sorted(scales, reverse=True)


def test_rows_that_find_no_room_are_counted(content):
    plan = planned(content, "A4", True)
    table = next((table for table in content.tables if table.name == "blocks"), None)
    if table is None:
        assert "blocks" not in {box.name for box in plan.boxes}
        return
    texts = [
        item.text for item in next(box for box in plan.boxes if box.name == "blocks").items if isinstance(item, Text)
    ]
    shown = sum(row[1] in texts for row in table.cells)
    more = [int(text.split()[1]) for text in texts if text.startswith("and ")]
    assert shown >= 3 or shown == len(table.cells)
    assert len(table.cells) - sum(more) <= shown
    assert bool(more) == ("blocks" in plan.cut)


@pytest.mark.parametrize(("name", "landscape"), [("A4", False), ("A2", True)])
def test_ticks_stand_where_their_coordinates_say(content, name, landscape):
    plan = planned(content, name, landscape)
    left, top, _, _ = plan.frame
    boxes = {box.name: box for box in plan.boxes}
    for item in boxes["eastings"].items:
        east = float(item.text.removeprefix("E").replace("\u202f", ""))
        assert left + float(plan.view.to_mm(east, 0)[0]) == pytest.approx(item.x, abs=1e-6)
    for item in boxes["northings"].items:
        north = float(item.text.removeprefix("N").replace("\u202f", ""))
        assert top + float(plan.view.to_mm(0, north)[1]) == pytest.approx(item.y, abs=1e-6)
    assert boxes["eastings"].items
    assert boxes["northings"].items


def test_a_scale_that_is_asked_for_is_kept(content):
    plan = planned(content, "A3", True, 20_000)
    assert (plan.scale, plan.whole) == (20_000, True)
    part = planned(content, "A3", True, 500)
    assert (part.scale, part.whole) == (500, False)
    assert part.view.centre_x == pytest.approx((content.bounds[0] + content.bounds[2]) / 2)


@pytest.mark.parametrize("size", [(10_000.0, 50.0), (50.0, 10_000.0), (1.0, 1.0)])
def test_strange_outlines_find_their_page(content, size):
    x, y = content.bounds[:2]
    strange = replace(content, bounds=(x, y, x + size[0], y + size[1]))
    for landscape in (False, True):
        plan = planned(strange, "A4", landscape)
        assert plan.whole
        assert np.isfinite(plan.frame).all()


def test_coordinates_are_written_in_threes():
    assert coordinate("E", 1_812_500.0) == "E\u202f1\u202f812\u202f500"
