import datetime as dt
from itertools import combinations

import pytest

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.result import shown
from farmmap.scene.page_items import Shape, Text
from farmmap.scene.page_moves import Moved
from farmmap.scene.paper import PAPERS
from farmmap.scene.sheet_layout import MARGIN_MM
from farmmap.sheets.sheet import SheetOptions, compose
from farmmap.sheets.side_by_side import as_it_stands
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
PRINTED = dt.date(2026, 11, 25)


def texts(sheet):
    return [item for box in sheet.plan.boxes for item in box.items if isinstance(item, Text)]


def words(sheet):
    return " ".join(item.text for item in texts(sheet))


@pytest.fixture(scope="module")
def sheet(hill_farm):
    return compose(hill_farm, ON, SheetOptions("A3", printed_on=PRINTED))


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("landscape", [False, True])
@pytest.mark.parametrize("blocks", [0, 60])
def test_real_type_fits_its_boxes_on_all_paper(paper, landscape, blocks):
    farm = made_farm(blocks, 200, names="Upper Terrace above the Woolshed, part")
    plan = compose(farm, ON, SheetOptions(paper, landscape)).plan
    for box in plan.boxes:
        spans = []
        for item in box.items:
            if isinstance(item, Text) and item.upright:
                wide = text_width_mm(item.text, item.style)
                left = item.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * wide
                assert left >= box.x - 0.3, (box.name, item.text)
                assert left + wide <= box.x + box.width + 0.3, (box.name, item.text)
                spans.append((left, left + wide, item.y, item.text))
        for one, other in combinations(spans, 2):
            if abs(one[2] - other[2]) < 0.5:
                assert one[1] <= other[0] + 1e-6 or other[1] <= one[0] + 1e-6, (box.name, one, other)


def test_the_page_says_what_a_page_must_say(sheet, hill_farm):
    said = words(sheet)
    for wanted in (
        "Pipit Downs",
        "1 January 2025",
        "printed 25 November 2026",
        "Grid north",
        "EPSG:2193",
        "NZGD2000 / New Zealand Transverse Mercator 2000",
        "at A3",
        "no survey",
        "not cadastral",
        "Power line on this map",
        "1.4 m",
        "over bark",
        "Σ π·d² ÷ 40 000",
        "crowns estimated from the stem",
    ):
        assert wanted in said, wanted
    turn = hill_farm.grid.convergence_deg(*[(sheet.scene.bounds[a] + sheet.scene.bounds[a + 2]) / 2 for a in (0, 1)])
    assert turn < 0  # east of the central meridian in the south, grid north lies west of true north
    assert f"True north lies {-turn:.2f}° east of it here." in said


def test_the_numbers_on_the_page_are_those_of_the_figures(sheet, hill_farm):
    on_page = {item.text for item in texts(sheet)}
    for row in block_figures(hill_farm, ON).rows:
        for column in ("name", "net_area_ha", "stems", "stems_per_ha", "basal_area_m2_per_ha", "qmd_cm"):
            assert shown(column, row[column]) in on_page, (row["name"], column)


def test_the_key_holds_what_is_shown_and_no_more(hill_farm):
    bare = compose(hill_farm, ON, SheetOptions("A3", hidden=frozenset({"fences", "species:PRAD", "notes"})))
    key = {item.text for box in bare.plan.boxes if box.name == "key" for item in box.items if isinstance(item, Text)}
    assert {"redwood", "totara", "creek", "creek margin", "power line", "10 cm", "30 cm", "60 cm"} <= key
    assert not {"fence", "fence, planned", "radiata pine", "note", "names"} & key
    assert "crown, true size" not in key  # too far off for crowns at this scale


def test_no_power_line_no_word_of_it():
    said = words(compose(made_farm(2, 20, creek=False), ON, SheetOptions("A4")))
    assert "no survey" in said
    assert "Power line" not in said


def test_the_way_that_shows_the_farm_larger_is_taken(hill_farm):
    free = compose(hill_farm, ON, SheetOptions("A4"))
    scales = [compose(hill_farm, ON, SheetOptions("A4", way)).plan.scale for way in (True, False)]
    assert free.plan.scale == min(scales)


def test_a_scale_too_large_is_kept_and_said(hill_farm):
    part = compose(hill_farm, ON, SheetOptions("A4", True, scale=1000))
    assert part.plan.scale == 1000
    assert any("only the middle" in message for message in part.messages)
    assert part.words.startswith("A4 landscape, 1:1 000. At 1:1000")


def test_a_page_with_room_has_nothing_to_say(sheet):
    assert sheet.messages == ()
    assert sheet.words in {f"A3 {way}, 1:5 000" for way in ("landscape", "portrait")}


def on_further(sheet):
    return [item.text for page in sheet.more_pages for box in page for item in box.items if isinstance(item, Text)]


@pytest.mark.parametrize(("paper", "landscape"), [("A4", True), ("A5", False), ("A7", True)])
def test_what_has_no_room_beside_the_map_stands_on_the_next_pages_and_nothing_is_lost(paper, landscape):
    farm = made_farm(60, 100)
    crowded = compose(farm, ON, SheetOptions(paper, landscape))
    said = on_further(crowded)
    assert crowded.messages == ()
    assert "next page" in words(crowded)
    assert "no survey" in words(crowded)
    for row in block_figures(farm, ON).rows:
        assert said.count(str(row["name"])) == 1
        assert shown("net_area_ha", row["net_area_ha"]) in said
    for page in crowded.more_pages:
        for one, other in combinations(page, 2):
            apart = one.x + one.width <= other.x + 1e-6 or other.x + other.width <= one.x + 1e-6
            assert apart or one.y + one.height <= other.y + 1e-6 or other.y + other.height <= one.y + 1e-6
        assert all(box.y + box.height <= crowded.plan.paper.height_mm - MARGIN_MM + 1e-6 for box in page)


@pytest.mark.parametrize("scale", [0, 5, 99, -5000, 1_000_001, 10**9])
def test_an_impossible_scale_is_refused(hill_farm, scale):
    with pytest.raises(BadInput, match="scale"):
        compose(hill_farm, ON, SheetOptions(scale=scale))


def test_an_empty_farm_is_refused_with_what_to_do():
    with pytest.raises(BadInput, match="bring in its boundary, blocks or trees"):
        compose(new_farm("Pipit Downs", "EPSG:2193"), ON)


def test_unknown_paper_is_refused(hill_farm):
    with pytest.raises(BadInput, match="B5"):
        compose(hill_farm, ON, SheetOptions("B5"))


@pytest.mark.parametrize("title", ["Planting beside Sedge Creek", "x" * 200, "Ōtū · Pâturage · Ελιά · Берёза"])
def test_a_title_of_ones_own(hill_farm, title):
    made = compose(hill_farm, ON, SheetOptions("A4", title=title))
    assert made.title == title
    head = made.plan.boxes[0].items[0]
    assert text_width_mm(head.text, head.style) <= made.plan.paper.width_mm - 20
    assert head.text == title or head.text.endswith("…")


def test_a_page_in_local_coordinates_claims_no_true_north():
    farm = made_farm(3, 50)
    west, south, _, _ = farm.bounds()
    moved = {}
    for name, frame in farm.tables.items():
        if "x" in frame.columns:
            moved[name] = frame.assign(x=frame["x"] - west, y=frame["y"] - south)
        elif "geometry" in frame.columns and len(frame):
            moved[name] = frame.assign(geometry=frame.geometry.translate(-west, -south))
    said = words(compose(farm.with_tables(**moved), ON, SheetOptions("A3", printed_on=PRINTED)))
    assert "True north is not known" in said
    assert "Local grid, measured" in said
    assert "EPSG" not in said


def boxes(sheet):
    found = {box.name: box for box in sheet.plan.boxes}
    assert len(found) == len(sheet.plan.boxes)
    return found


def test_an_element_stands_exactly_where_it_was_put_and_is_set_for_the_room_it_was_given(hill_farm):
    moved = (
        Moved("key", 20.0, 120.0, 70.0),
        Moved("caution", 30.5, 250.0, 60.0, 20.0),
        Moved("title", 100.0, 12.0, 90.0),
    )
    sheet = compose(hill_farm, ON, SheetOptions("A4", False, moved=moved))
    there = boxes(sheet)
    for one in moved:
        box = there[one.name]
        assert (box.x, box.y, box.width) == (one.x, one.y, one.width)
        assert all(item.x >= one.x - 0.3 for item in box.items if isinstance(item, Text))
    others = [box for name, box in there.items() if name not in {one.name for one in moved}]
    for one, other in combinations(others, 2):
        apart = one.x + one.width <= other.x + 1e-6 or other.x + other.width <= one.x + 1e-6
        assert apart or one.y + one.height <= other.y + 1e-6 or other.y + other.height <= one.y + 1e-6


def test_a_map_that_was_put_somewhere_has_that_frame_and_its_ticks_follow(hill_farm):
    free = compose(hill_farm, ON, SheetOptions("A3", True)).plan
    plan = compose(hill_farm, ON, SheetOptions("A3", True, moved=(Moved("map", 30.0, 40.0, 180.0, 150.0),))).plan
    assert plan.frame == (30.0, 40.0, 180.0, 150.0)
    assert (plan.view.width_mm, plan.view.height_mm) == (180.0, 150.0)
    assert plan.whole
    named = {box.name: box for box in plan.boxes}
    for item in named["eastings"].items:
        east = float(item.text.removeprefix("E").replace("\u202f", ""))
        assert 30.0 + float(plan.view.to_mm(east, 0)[0]) == pytest.approx(item.x, abs=1e-6)
    bar = next(item.text for item in named["scale bar"].items if isinstance(item, Text))
    assert bar.startswith(f"1:{plan.scale:,}".replace(",", "\u202f"))
    only_moved = compose(hill_farm, ON, SheetOptions("A3", True, moved=(Moved("map", 50.0, 60.0),))).plan
    assert only_moved.frame == (50.0, 60.0, *free.frame[2:])


def test_what_is_put_upon_the_map_has_white_ground_and_what_is_amiss_is_said(hill_farm):
    sheet = compose(hill_farm, ON, SheetOptions("A4", False, moved=(Moved("north", 30.0, 60.0, 60.0),)))
    plate = boxes(sheet)["north"].items[0]
    assert isinstance(plate, Shape)
    assert plate.fill == "#FFFFFF"
    assert sheet.messages == ()
    amiss = compose(hill_farm, ON, SheetOptions("A4", False, moved=(Moved("north", 190.0, 60.0, 60.0),)))
    assert any(said == "Over the edge of the paper: north arrow" for said in amiss.messages)
    on_title = compose(hill_farm, ON, SheetOptions("A4", False, moved=(Moved("north", 10.0, 10.0, 60.0),)))
    assert any(said == "Upon each other: title and north arrow" for said in on_title.messages)


def test_elements_that_are_left_out_leave_their_room_to_the_others(hill_farm):
    whole = compose(hill_farm, ON, SheetOptions("A4", False))
    less = compose(hill_farm, ON, SheetOptions("A4", False, left_out=frozenset({"blocks", "notes", "grid"})))
    assert not {"blocks", "notes", "eastings", "northings"} & set(boxes(less))
    assert less.plan.view.width_mm * less.plan.view.height_mm > whole.plan.view.width_mm * whole.plan.view.height_mm
    unknown = compose(hill_farm, ON, SheetOptions("A4", False, left_out=frozenset({"legend"})))
    assert any("no legend on this page to leave out; it has" in said for said in unknown.messages)
    slip = compose(hill_farm, ON, SheetOptions("A4", False, left_out=frozenset({"nots"})))
    assert any("no nots on this page to leave out; did you mean notes?" in said for said in slip.messages)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"left_out": frozenset({"caution"})}, "cannot be left out"),
        ({"left_out": frozenset({"map"})}, "cannot be left out"),
        ({"moved": (Moved("key", float("nan"), 1.0),)}, "key"),
        ({"moved": (Moved("map", 10.0, 10.0, 5.0, 5.0),)}, "20 mm"),
        ({"look": "neon"}, "neon"),
    ],
)
def test_a_page_that_cannot_be_as_asked_is_refused_in_words(hill_farm, options, words):
    with pytest.raises(BadInput, match=words):
        compose(hill_farm, ON, SheetOptions("A4", **options))


def test_own_words_stand_on_the_page(hill_farm):
    options = SheetOptions("A4", note="Gate key at the shed.\nAsk first.", credits="Drawn by Jo", version="draft 2")
    there = boxes(compose(hill_farm, ON, options))
    said = {name: " ".join(item.text for item in box.items if isinstance(item, Text)) for name, box in there.items()}
    assert "Gate key at the shed. Ask first." in said["note"]
    assert said["credits"] == "Drawn by Jo"
    assert said["version"] == "Version: draft 2"


def test_a_page_of_a_part_of_the_farm_has_an_overview_unless_it_is_not_wanted(hill_farm):
    assert compose(hill_farm, ON, SheetOptions("A4")).insets == ()
    part = compose(hill_farm, ON, SheetOptions("A4", scale=3187))
    (small,) = part.insets
    assert small.name == "overview"
    assert part.plan.scale == 3187
    west, south, east, north = hill_farm.bounds()
    shown = small.view.ground_bounds()
    assert shown[0] <= west < east <= shown[2]
    assert shown[1] <= south < north <= shown[3]
    assert compose(hill_farm, ON, SheetOptions("A4", scale=3187, overview=False)).insets == ()
    assert len(compose(hill_farm, ON, SheetOptions("A4", overview=True)).insets) == 1


def test_two_maps_show_what_stands_and_what_is_planned():
    farm = made_farm(6, 100)
    blocks = farm.blocks.copy()
    blocks.loc[blocks.index[:2], "stage"] = "planned"
    sheet = compose(farm.with_tables(blocks=blocks), ON, SheetOptions("A3", beside=True))
    (second,) = sheet.insets
    assert second.view == sheet.plan.view
    assert second.frame[2:] == sheet.plan.frame[2:]
    assert {"Existing", "Planned"} <= {item.text for item in texts(sheet)}
    ids = [
        {int(one) for layer in scene.layers if layer.name == "blocks" for one in layer.ids}
        for scene in (sheet.scene, second.scene)
    ]
    assert ids[1] - ids[0] == {int(block) for block in blocks.index[blocks["stage"] == "planned"]}
    boxes(sheet)
    with pytest.raises(BadInput, match="nothing is planned"):
        compose(as_it_stands(farm), ON, SheetOptions(beside=True))
