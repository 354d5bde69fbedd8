"""A planting plan on paper."""

import datetime as dt
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pdfplumber
import pikepdf
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtGui import QColor, QImage

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.accept import plan_accepted
from farmmap.plans.planting.keeping.kept import plan_called, plan_kept, plan_taken_back
from farmmap.plans.planting.make import make_plan
from farmmap.plans.planting.outcome.cover import expected_cover
from farmmap.plans.planting.outcome.report import plan_report
from farmmap.plans.planting.plan import Plants
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.plans.planting.recipes.recipe import (
    FenceWish,
    Kin,
    Pattern,
    PlantKind,
    Recipe,
    Share,
    StockOrder,
    WidthRule,
    Zone,
)
from farmmap.scene.page_items import Symbol, Text
from farmmap.scene.page_notes import BULLET
from farmmap.scene.page_plan import WAYS_DEG, farm_without, hatch, planting_bounds, zone_letter
from farmmap.scene.page_plan_tables import plan_tables
from farmmap.scene.paper import PAPERS
from farmmap.scene.planting_layer import HATCHES, ZONE_COLOURS
from farmmap.scene.scales import SERIES
from farmmap.scene.scene import LineLayer, TreeLayer
from farmmap.scene.sheet_layout import MARGIN_MM
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.plan_sheet import YEARS, compose_kept, compose_plan
from farmmap.sheets.write import page_picture, write_sheet
from tests.conftest import small_farm

ON = dt.date(2025, 1, 1)
PRINTED = dt.date(2026, 11, 25)
RECIPE = Recipe(
    "Sedges and tōtara",
    (WidthRule(width_m=9.0),),
    (
        Zone("Water's edge", width_m=3.0, pattern=Pattern.TRIANGLE, between_m=1.0, within_m=1.0,
             mix=(Kin("pūkio", 0.7), Kin("mānuka", 0.3)), reason="holds the bank"),
        Zone("Upper bank", width_m=6.0, pattern=Pattern.ROWS, between_m=2.0, within_m=1.5,
             mix=(Kin("coast redwood", 0.5, "pole"), Kin("tōtara", 0.5))),
    ),
    fence=FenceWish(gates_every_m=100.0, water_every_m=120.0),
    orders={"seedling": StockOrder(20.0, 40, price=2.5, guard=1.0), "pole": StockOrder(25.0, 5, "bundle", price=9.0)},
    rates={"guard": 1.2, "fence_m": 14.0, "gate": 320.0, "hour": 30.0, "trough": 400.0},
    shares={"plants": Share(50.0, 0.0), "fence": Share(30.0, 20.0)},
)  # fmt: skip


@pytest.fixture(scope="module")
def farm():
    return small_farm()


@pytest.fixture(scope="module")
def plan(farm):
    return make_plan(farm, Stretch("Sedge Creek", ("right",), 20.0, 220.0), RECIPE, name="Lower Sedge")


def options(paper="A3", landscape=None, **more):
    return SheetOptions(paper, landscape, printed_on=PRINTED, **more)


@pytest.fixture(scope="module")
def sheet(farm, plan):
    return compose_plan(farm, ON, plan, options())


def texts(sheet):
    return [item for box in sheet.plan.boxes for item in box.items if isinstance(item, Text)]


def words(sheet):
    return " ".join(item.text for item in texts(sheet))


def test_the_page_says_what_a_plan_on_paper_must_say(sheet):
    said = words(sheet)
    for wanted in (
        "Lower Sedge",
        "Small Pipit: planting along the right bank of Sedge Creek, 20 to 220 m from its top",
        "printed 25 November 2026",
        "Sedges and tōtara",
        "A map is no survey; a forecast is no advice.",
        "check your local code",
        "not cadastral",
        "Power line on this map",
        "Grid north",
        "EPSG:2193",
        "at A3",
        "new fence, strainer post",
        "gate",
        "trough",
        "A   Water's edge",
        "B   Upper bank",
        "20 years after planting",
    ):
        assert wanted in said, wanted
    assert sheet.messages == ()


def test_the_numbers_on_the_page_are_those_of_the_plan(farm, plan, sheet):
    kinds = plant_kinds(farm, plan.recipe)
    report = plan_report(plan, expected_cover(farm, plan, kinds, YEARS))
    on_page = [item.text for item in texts(sheet)]
    tables = plan_tables(report)
    assert [table.name for table in tables] == ["zones", "order", "fence", "costs", "cover"]
    for table in tables:
        for cell in (cell for row in (*table.cells, table.foot) for cell in row if cell):
            assert cell in on_page, (table.name, cell)
    by_name = {table.name: table for table in tables}
    assert [row[3] for row in by_name["zones"].cells] == [
        f"{(np.array([strip.zone for strip in plan.strips])[plan.plants.strip] == zone).sum():,}".replace(",", "\u202f")
        for zone in (0, 1)
    ]
    assert [row[-1] for row in by_name["order"].cells] == [one.packs_in_words for one in report.to_buy]
    assert by_name["costs"].foot[1] == f"{report.costs.total_cents / 100:,.2f}".replace(",", "\u202f")
    assert [row[1] for row in by_name["cover"].cells] == [f"{percent:.0f}" for percent in report.cover.cover_percent]
    fence = report.needed
    assert by_name["fence"].cells[0][1:4] == (f"{fence.fence_m:.0f}", f"{fence.strainers}", f"{fence.posts}")


def test_the_map_shows_the_whole_planting_at_the_largest_round_scale(sheet, plan):
    west, south, east, north = planting_bounds(plan)
    shown = sheet.plan.view.ground_bounds()
    assert shown[0] < west < east < shown[2]
    assert shown[1] < south < north < shown[3]
    assert float(f"{sheet.plan.scale:.3e}".partition("e")[0]) in SERIES
    metres = sheet.plan.view.metres_per_mm
    full = max((east - west) / metres / sheet.plan.view.width_mm, (north - south) / metres / sheet.plan.view.height_mm)
    assert full > 1 / 2.5  # the next larger scale of the series would be 2 or 2.5 times as large
    for scale in (500, 2500):
        assert compose_plan(small_farm(), ON, plan, options(scale=scale)).plan.scale == scale


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("landscape", [False, True])
def test_nothing_is_clipped_or_lies_on_another(farm, plan, paper, landscape):
    sheet = compose_plan(farm, ON, plan, options(paper, landscape))
    left, top, wide, high = sheet.plan.frame
    places = [(box.name, box.x, box.y, box.x + box.width, box.y + box.height) for box in sheet.plan.boxes]
    places.append(("map", left, top, left + wide, top + high))
    for one in places:
        assert min(one[1:3]) >= MARGIN_MM - 1e-6, one
        assert one[3] <= sheet.plan.paper.width_mm - MARGIN_MM + 1e-6, one
        assert one[4] <= sheet.plan.paper.height_mm - MARGIN_MM + 1e-6, one
    for one, other in combinations(places, 2):
        apart = one[3] <= other[1] + 1e-6 or other[3] <= one[1] + 1e-6 or one[4] <= other[2] + 1e-6
        assert apart or other[4] <= one[2] + 1e-6, (one, other)
    for box in sheet.plan.boxes:
        spans = []
        for item in box.items:
            if isinstance(item, Text) and item.upright:
                across = text_width_mm(item.text, item.style)
                start = item.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * across
                assert box.x - 0.3 <= start, (box.name, item.text)
                assert start + across <= box.x + box.width + 0.3, (box.name, item.text)
                assert box.y - 0.3 <= item.y <= box.y + box.height + 0.3, (box.name, item.text)
                spans.append((start, start + across, item.y, item.text))
        for one, other in combinations(spans, 2):
            if abs(one[2] - other[2]) < 0.5:
                assert one[1] <= other[0] + 1e-6 or other[1] <= one[0] + 1e-6, (box.name, one, other)


def crowded(plan, kinds):
    """Return the plan with so many kinds of plants on its upper bank that no small paper holds them all."""
    names = [f"plant {number}" for number in range(kinds)]
    zone = replace(plan.recipe.zones[1], mix=tuple(Kin(name, 1 / kinds) for name in names))
    known = tuple(replace(_kind(), code=f"P{number}", name=name) for number, name in enumerate(names))
    recipe = replace(plan.recipe, zones=(plan.recipe.zones[0], zone), plants=known)
    upper = plan.plants.kin >= 2
    kin = np.where(upper, 2 + np.cumsum(upper) % kinds, plan.plants.kin)
    plants = Plants(plan.plants.x, plan.plants.y, plan.plants.strip, kin, plan.plants.row)
    return replace(plan, recipe=recipe, kinds=((0, recipe.zones[0].mix[0]), (0, recipe.zones[0].mix[1]), *((1, kin) for kin in zone.mix)), plants=plants)  # fmt: skip


def test_what_has_no_room_beside_the_map_stands_on_a_second_page(farm, plan, tmp_path):
    many = crowded(plan, 30)
    sheet = compose_plan(farm, ON, many, options("A4", landscape=False))
    assert "two pages" in sheet.words
    names = {box.name for box in sheet.second}
    assert {"title", "order", "fence", "costs", "cover", "notes"} <= names <= {*ON_SECOND}
    assert not names & {box.name for box in sheet.plan.boxes} - {"title", "notes"}
    assert "on the second page" in words(sheet)
    on_second = [item.text for box in sheet.second for item in box.items if isinstance(item, Text)]
    assert {f"plant {number}" for number in range(30)} <= set(on_second)
    for one, other in combinations(sheet.second, 2):
        assert (
            one.x + one.width <= other.x + 1e-6 or other.x + other.width <= one.x + 1e-6
            or one.y + one.height <= other.y + 1e-6 or other.y + other.height <= one.y + 1e-6
        ), (one.name, other.name)  # fmt: skip
    assert all(box.y + box.height <= 297 - MARGIN_MM + 1e-6 for box in sheet.second)
    write_sheet(sheet, tmp_path / "plan.pdf")
    with pdfplumber.open(tmp_path / "plan.pdf") as pdf:
        first, second = (page.extract_text() for page in pdf.pages)
        assert {(float(page.width), float(page.height)) for page in pdf.pages} == {(595.27559, 841.88976)}
    assert "Grid north" in first
    assert "plant 29" in second
    write_sheet(sheet, tmp_path / "plan.png")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["plan-2.png", "plan.pdf", "plan.png"]


ON_SECOND = ("title", "order", "fence", "costs", "cover", "calendar", "cost lines", "notes")


def on_second(sheet, name):
    return [item for box in sheet.second if box.name == name for item in box.items if isinstance(item, Text)]


def test_a_second_page_with_room_tells_the_work_by_month_and_every_cost_and_each_note_apart(farm, plan):
    many = crowded(plan, 28)
    sheet = compose_plan(farm, ON, many, options("A4", landscape=False))
    assert {box.name for box in sheet.second} == {*ON_SECOND}
    report = plan_report(many)
    calendar = " ".join(item.text for item in on_second(sheet, "calendar"))
    assert all(work.when in calendar for work in report.calendar.works)
    costs = [item.text for item in on_second(sheet, "cost lines")]
    assert [line.words for line in report.costs.lines if line.words not in costs] == []
    notes = on_second(sheet, "notes")
    bullets = [item for item in notes if item.text == BULLET]
    assert len(bullets) > 4
    assert {item.style for item in notes[1:]} == {on_second(sheet, "calendar")[1].style}  # as large as the tables
    assert all(
        item.text.endswith((".", "?")) for item, after in pairwise(notes) if after.text == BULLET and item != notes[0]
    )


def test_notes_are_written_smaller_and_what_is_more_left_out_before_anything_is_cut(farm, plan):
    pages = [compose_plan(farm, ON, crowded(plan, many), options("A4", landscape=False)) for many in (28, 75)]
    extras = [len({"calendar", "cost lines"} & {box.name for box in sheet.second}) for sheet in pages]
    assert extras[0] == 2
    assert extras == sorted(extras, reverse=True)
    assert extras[-1] < 2
    whole = [sheet for sheet, more in zip(pages, extras, strict=True) if more]
    assert not any("plants to order" in message for sheet in whole for message in sheet.messages)


@pytest.mark.parametrize("landscape", [False, True])
def test_a_subtitle_too_long_for_a_line_goes_on_in_a_second(farm, plan, landscape):
    long = crowded(
        replace(plan, recipe=replace(plan.recipe, title="Sedges, flax and tōtara for the wet side " * 3)), 30
    )
    sheet = compose_plan(farm, ON, long, options("A4", landscape=landscape))
    for boxes in (sheet.plan.boxes, sheet.second):
        (head,) = [box for box in boxes if box.name == "title"]
        said = " ".join(item.text for item in head.items)
        assert "printed 25 November 2026" in said
        assert all(item.y <= head.y + head.height for item in head.items)


def test_what_has_no_room_at_all_is_left_out_with_a_word(farm, plan):
    many = crowded(plan, 150)
    sheet = compose_plan(farm, ON, many, options("A4", landscape=True))
    said = " ".join(item.text for box in sheet.second for item in box.items if isinstance(item, Text))
    assert "more kinds of plants: see farmmap plant" in said
    assert "more kinds" in words(sheet)
    assert any("There is no room for all of" in message and "plants to order" in message for message in sheet.messages)
    total = f"{sum(one.to_order for one in plan_report(many).to_buy):,}".replace(",", "\u202f")
    assert total in said  # the sum stays


def _kind():
    return PlantKind("X", "x", years=(10.0,), crown_m=(2.0,), height_m=(3.0,))


def test_every_plant_stands_on_the_map_at_its_place_with_the_sign_of_its_kind(sheet, plan):
    symbols = [item for item in sheet.plan.over_map if isinstance(item, Symbol)]
    left, top, _, _ = sheet.plan.frame
    across, down = sheet.plan.view.to_mm(plan.plants.x, plan.plants.y)
    assert np.allclose([(item.x - left, item.y - top) for item in symbols], np.column_stack([across, down]))
    species = [plan.kinds[kin][1].species for kin in plan.plants.kin]
    assert [item.symbol.name for item in symbols] == species
    signs = {(item.symbol.shape, item.symbol.letter) for item in symbols}
    assert len(signs) == len(set(species)) == 4


def test_a_plant_is_called_one_thing_on_the_whole_page(farm):
    mix = (Kin("PUKIO", 0.7), Kin("manuka", 0.3))
    edge, bank = (replace(RECIPE.zones[0], mix=mix), RECIPE.zones[1])
    plan = make_plan(farm, Stretch("Sedge Creek", ("right",), 20.0, 220.0), replace(RECIPE, zones=(edge, bank)))
    page = compose_plan(farm, ON, plan, options())
    on_page = [item.text for item in texts(page)]
    for name in ("pūkio", "mānuka"):
        assert on_page.count(name) == 2  # in the key and in the order
    assert "manuka" not in words(page)
    assert "PUKIO" not in words(page)


def test_zones_are_told_apart_without_colour(sheet, plan):
    assert len({WAYS_DEG[kind] for kind in HATCHES}) == len(HATCHES) >= len(ZONE_COLOURS)
    strokes = [layer for layer in sheet.scene.layers if isinstance(layer, LineLayer) and layer.name == "zones"]
    assert len(strokes) == 2
    for zone, layer in enumerate(strokes):
        ground = shapely.union_all([strip.outline for strip in plan.strips if strip.zone == zone])
        assert shapely.union_all(layer.shapes).within(ground.buffer(1e-3))
    written = {item.text for item in sheet.plan.over_map if isinstance(item, Text)}
    assert {zone_letter(0), zone_letter(1)} <= written


def test_a_copy_in_black_and_white_still_shows_zones_plants_and_fence(farm, plan):
    sheet = compose_plan(farm, ON, plan, options("A2"))
    grey = page_picture(sheet.pages[0], 150).convertToFormat(QImage.Format.Format_Grayscale8)
    left, top, _, _ = sheet.plan.frame

    def contrast(places):
        across, down = sheet.plan.view.to_mm(places[:, 0], places[:, 1])
        dots = np.column_stack([across + left, down + top]) * 150 / 25.4
        values = [QColor(grey.pixel(int(x), int(y))).red() for x, y in dots]
        return max(values) - min(values)

    for strip in plan.strips:
        west, south, _, north = strip.outline.bounds
        middle = (south + north) / 2
        assert contrast(np.column_stack([np.linspace(west + 1, west + 21, 600), np.full(600, middle)])) > 60
    line = shapely.get_coordinates(shapely.line_interpolate_point(plan.fences[0].line, np.linspace(20, 60, 800)))
    assert contrast(line) > 60


@given(
    st.sampled_from(HATCHES),
    st.floats(0.3, 3.0),
    st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=3, max_size=8),
)
def test_strokes_of_a_hatch_stay_inside_and_lie_evenly(kind, apart, corners):
    ground = shapely.convex_hull(shapely.multipoints(corners))
    if ground.geom_type != "Polygon" or ground.area < 1.0:
        return
    strokes = [piece for piece in hatch(ground, kind, apart) if piece.geom_type == "LineString"]
    assert all(
        piece.distance(ground) < 1e-6 and piece.length - ground.intersection(piece).length < 1e-6 for piece in strokes
    )
    wide = apart * (1.5 if len(WAYS_DEG[kind]) > 1 else 1.0)
    expected = ground.area / wide * len(WAYS_DEG[kind])
    drawn = sum(piece.length for piece in strokes)
    assert abs(drawn - expected) <= ground.length * len(WAYS_DEG[kind])


def test_the_small_map_shows_plants_apart(sheet, plan):
    (inset,) = (one for one in sheet.insets if one.name == "detail")
    assert inset.view.metres_per_mm < sheet.plan.view.metres_per_mm / 1.5
    left, top, wide, high = inset.frame
    symbols = [item for item in inset.over_map if isinstance(item, Symbol)]
    assert 10 < len(symbols) < len(plan.plants)
    assert min(item.size for item in symbols) > 0.6
    assert all(left <= item.x <= left + wide and top <= item.y <= top + high for item in symbols)


@pytest.mark.parametrize(("paper", "landscape"), [("A4", False), ("A3", True), ("A1", True)])
def test_text_is_text_and_fonts_are_embedded(farm, plan, tmp_path, paper, landscape):
    path = tmp_path / "plan.pdf"
    sheet = compose_plan(farm, ON, plan, options(paper, landscape))
    write_sheet(sheet, path)
    with pikepdf.open(path) as pdf:
        (page,) = pdf.pages
        assert float(page.mediabox[2]) == pytest.approx(sheet.plan.paper.width_mm / 25.4 * 72, abs=0.03)
        assert str(pdf.docinfo["/Title"]) == "Lower Sedge"
        for font in page.resources.Font.values():
            inner = font.DescendantFonts[0] if "/DescendantFonts" in font else font
            assert "/FontFile2" in inner.FontDescriptor or "/FontFile3" in inner.FontDescriptor
        assert not [x for x in page.resources.get("/XObject", {}).values() if x.Subtype == "/Image"]
    with pdfplumber.open(path) as pdf:
        said = pdf.pages[0].extract_text()
    for wanted in ("Lower Sedge", "Plants to order", "Who pays", "coast redwood", "bundles of 5", "no advice"):
        assert wanted in said


def test_ground_on_which_no_tree_stands_is_written(farm, plan, tmp_path):
    sheet = compose_plan(farm, ON, plan, options("A4"))
    layers = [layer for layer in sheet.scene.layers if isinstance(layer, TreeLayer)]
    (inset,) = (one for one in sheet.insets if one.name == "detail")
    west, south, east, north = inset.view.ground_bounds(2.0)
    assert all(((x < west) | (x > east) | (y < south) | (y > north)).all() for x, y in ((t.x, t.y) for t in layers))
    write_sheet(sheet, tmp_path / "plan.pdf")
    assert (tmp_path / "plan.pdf").stat().st_size > 10_000


def kept(farm, plan):
    return plan_kept(farm, plan, on=ON).edit.apply(farm)


def test_a_plan_kept_or_accepted_prints_alike(farm, plan):
    free = compose_kept(kept(farm, plan), ON, "lower sedge", options())
    accepted = plan_accepted(farm, plan, on=ON).edit.apply(farm)
    standing = compose_kept(accepted, ON, "Lower Sedge", options())
    assert words(free) == words(standing) == words(compose_plan(farm, ON, plan, options()))
    assert standing.messages == ()
    ids = accepted.trees.index[(accepted.trees["plan"] == "Lower Sedge").to_numpy(bool)]
    for layer in standing.scene.layers:
        assert not isinstance(layer, TreeLayer) or not np.isin(layer.ids, ids).any()
    back = plan_taken_back(accepted, "Lower Sedge").edit.apply(accepted)
    assert plan_called(back, "Lower Sedge").state == "kept"


def test_a_plan_without_a_name_takes_nothing_off_the_farm(farm, plan):
    assert farm_without(farm, "") is farm
    accepted = plan_accepted(farm, plan, on=ON).edit.apply(farm)
    assert len(farm_without(accepted, "Lower Sedge").trees) == len(farm.trees)
    assert len(farm_without(accepted, "Upper Sedge").trees) == len(accepted.trees)


def test_an_accepted_plan_that_would_come_out_otherwise_by_now_says_so(farm, plan):
    accepted = plan_accepted(farm, plan, on=ON).edit.apply(farm)
    gone = accepted.trees.index[(accepted.trees["plan"] == "Lower Sedge").to_numpy(bool)][:5]
    fewer = accepted.with_tables(trees=accepted.trees.drop(gone))
    (said,) = compose_kept(fewer, ON, "Lower Sedge", options()).messages
    assert f"{len(plan.plants) - 5:,} plants on the farm" in said
    assert f"has {len(plan.plants):,}" in said


def test_the_key_tells_of_what_is_on_the_map_and_no_more(farm, plan):
    said = words(compose_plan(farm, ON, plan, options("A4", landscape=False, scale=500)))
    assert "Also on the map" in said
    assert "creek" in said
    west = make_plan(farm, Stretch("Sedge Creek", ("right",), 20.0, 50.0), RECIPE, name="Upper Sedge")
    near = words(compose_plan(farm, ON, west, options("A4", landscape=True, scale=250)))
    assert "power line" not in near
    assert "Power line" not in near
    assert "power line" in said or "Power line" in words(compose_plan(farm, ON, plan, options()))


def test_a_plan_without_rates_or_fence_has_no_such_tables(farm):
    bare = replace(RECIPE, rates={}, orders={}, fence=FenceWish(wanted=False))
    plan = make_plan(farm, Stretch("Sedge Creek", ("right",), 20.0, 120.0), bare)
    said = words(compose_plan(farm, ON, plan, options("A4")))
    assert "Who pays" not in said
    assert "New fence" not in said
    assert "Plants to order" in said


def test_what_cannot_be_printed_is_said(farm, plan):
    with pytest.raises(BadInput, match="no plan called Upper Sedge"):
        compose_kept(farm, ON, "Upper Sedge")
    with pytest.raises(BadInput, match="a scale is 1:100"):
        compose_plan(farm, ON, plan, options(scale=5))
    with pytest.raises(BadInput, match="B5"):
        compose_plan(farm, ON, plan, options("B5"))
    with pytest.raises(BadInput, match="no ground and no fence"):
        compose_plan(farm, ON, replace(plan, strips=(), fences=()), options())
    close = compose_plan(farm, ON, plan, options("A4", landscape=True, scale=100))
    assert any("only its middle is shown" in message for message in close.messages)


def test_an_overview_of_the_farm_stands_on_the_page_with_the_frame_of_the_map(sheet, farm):
    (overview,) = (one for one in sheet.insets if one.name == "overview")
    west, south, east, north = farm.bounds()
    shown = overview.view.ground_bounds()
    assert shown[0] <= west
    assert shown[1] <= south
    assert shown[2] >= east
    assert shown[3] >= north
    mark = overview.over_map[-1]
    across, down = overview.view.to_mm(*np.array(sheet.plan.view.ground_bounds())[[[0, 2], [1, 3]]])
    left, top = overview.frame[:2]
    inside = np.clip(across, 0, overview.frame[2]) + left, np.clip(down, 0, overview.frame[3]) + top
    assert [mark.points[0][0], mark.points[2][0]] == pytest.approx(inside[0].tolist(), abs=1.0)
    assert [mark.points[2][1], mark.points[0][1]] == pytest.approx(inside[1].tolist(), abs=1.0)
    assert f"1:{overview.view.scale_denominator:,.0f}".replace(",", "\u202f") in words(sheet)


def test_existing_and_planned_stand_beside_each_other_at_one_scale(farm, plan):
    sheet = compose_plan(farm, ON, plan, options(beside=True))
    (planned,) = (one for one in sheet.insets if one.name == "map 2")
    assert planned.view == sheet.plan.view
    assert {"Existing", "Planned"} <= {item.text for item in texts(sheet)}
    assert sum(isinstance(item, Symbol) for item in planned.over_map) == len(plan.plants)
    assert not any(isinstance(item, Symbol) for item in sheet.plan.over_map)
    assert "zones" not in {layer.name for layer in sheet.scene.layers}
    assert "zones" in {layer.name for layer in planned.scene.layers}
    assert sum(box.name == "key" for box in sheet.plan.boxes) == 1


def test_tables_that_are_left_out_are_on_no_page(farm, plan):
    sheet = compose_plan(farm, ON, crowded(plan, 30), options("A4", left_out=frozenset({"costs", "notes"})))
    names = {box.name for box in (*sheet.plan.boxes, *sheet.second)}
    assert "order" in names
    assert not names & {"costs", "notes"}
