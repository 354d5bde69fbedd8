import datetime as dt
from itertools import combinations

import pytest

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.result import shown
from farmmap.scene.page_items import Text
from farmmap.scene.paper import PAPERS
from farmmap.sheets.sheet import SheetOptions, compose
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


def test_a_table_cut_short_is_said():
    crowded = compose(made_farm(60, 100), ON, SheetOptions("A4", True))
    assert any("the blocks" in message for message in crowded.messages)
    assert "more blocks: see farmmap figures" in words(crowded)


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
