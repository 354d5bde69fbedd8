"""The pack as one file: its parts, words, page numbers, maps, messages, and the data behind it."""

import csv
import datetime as dt
import json
from itertools import pairwise

import geopandas as gpd
import pandas as pd
import pikepdf
import pyogrio
import pypdfium2
import pytest
import shapely

from farmmap.editing.pack_parts import kept_parts, parts_kept
from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.farm.schema import TABLES
from farmmap.files.data_folder import LAYERS_FILE, README_FILE, write_data_folder
from farmmap.files.farm_file import write_farm
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.keeping.accept import plan_accepted
from farmmap.plans.planting.keeping.kept import plan_kept
from farmmap.plans.planting.make import make_plan
from farmmap.scene.page_flow import FOOT_MM, SIDE_MM, TOP_MM
from farmmap.scene.page_items import Text
from farmmap.scene.styles import LOOKS
from farmmap.sheets.pack.compose import compose_pack, make_pack, part_states
from farmmap.sheets.pack.data import data_of
from farmmap.sheets.pack.maps import ways_in
from farmmap.sheets.pack.options import PackOptions
from farmmap.sheets.pack.parts import PARTS, part_key
from farmmap.sheets.write import write_document
from tests.conftest import small_farm
from tests.place import EAST, NORTH
from tests.sheets.test_plan_sheet import RECIPE

ON = dt.date(2025, 1, 1)
PRINTED = dt.date(2026, 11, 25)
PLANLESS = ("works", "plants", "fence", "costs")


def options(**more):
    return PackOptions(printed_on=PRINTED, **more)


@pytest.fixture(scope="module")
def farm():
    farm = small_farm()
    for name, ends, bank in (("Lower Sedge", (20.0, 120.0), "right"), ("Upper Sedge", (130.0, 220.0), "left")):
        plan = make_plan(farm, Stretch("Sedge Creek", (bank,), *ends), RECIPE, name=name)
        proposed = plan_accepted(farm, plan) if name == "Lower Sedge" else plan_kept(farm, plan)
        farm = proposed.edit.apply(farm)
    return farm


@pytest.fixture(scope="module")
def pack(farm):
    return make_pack(farm, ON, options(plans=("Lower Sedge",)))


def words_of(document, path):
    write_document(document, path)
    return [" ".join(page.get_textpage().get_text_range().split()) for page in pypdfium2.PdfDocument(path)]


def texts(page):
    return [item for box in page.boxes for item in box.items if isinstance(item, Text)]


def titles(document):
    return [mark.words for page in document.pages for mark in page.bookmarks if mark.level == 1]


def test_all_parts_stand_in_their_order(pack):
    assert titles(pack.document) == [part.title for part in PARTS.values()]
    assert not pack.messages


def test_without_a_plan_what_is_planned_is_left_out_and_said(farm):
    made = make_pack(farm, ON, options())
    assert titles(made.document) == [part.title for key, part in PARTS.items() if key not in PLANLESS]
    (message,) = made.messages
    assert "Planned works, Plant schedule, Fence and water, Costs" in message
    assert "--plan" in message


def test_chosen_parts_stand_in_the_chosen_order(farm):
    made = compose_pack(farm, ON, options(parts=("Location", "summary", "summary")))
    assert titles(made) == ["Location", "Summary"]


def test_contents_and_feet_tell_the_pages(pack):
    first = [item.text for item in texts(pack.document.pages[0])]
    count = len(pack.document.pages)
    for number, page in enumerate(pack.document.pages, 1):
        assert f"page {number} of {count}" in [item.text for item in texts(page)]
        for mark in (mark for mark in page.bookmarks if mark.level == 1):
            assert first[first.index(mark.words) + 1] == str(number)


def test_every_thing_lies_within_the_margins_and_no_page_is_nearly_empty(pack, farm):
    for document in (
        pack.document,
        compose_pack(farm, ON, options()),
        compose_pack(new_farm("Bare", "EPSG:2193"), ON, options()),
    ):
        for place, page in enumerate(document.pages):
            bottom = page.paper.height_mm - FOOT_MM + 0.01
            boxes = [box for box in page.boxes if box.name != "foot"]
            assert all(
                box.x >= SIDE_MM - 0.01 and box.y >= TOP_MM - 0.01 and box.y + box.height <= bottom for box in boxes
            )
            for one in page.maps:
                left, top, wide, high = one.frame
                assert left >= SIDE_MM
                assert left + wide <= page.paper.width_mm - SIDE_MM + 0.01
                assert top + high <= bottom
            filled = max(box.y + box.height for box in boxes)
            assert filled > 0.4 * page.paper.height_mm or place == len(document.pages) - 1


def test_no_text_lies_on_another(pack):
    """Lines of text of one size that begin at the same place are apart; nothing goes over the right margin."""
    from farmmap.drawing.fonts import text_width_mm

    for page in pack.document.pages:
        spans = []
        for item in texts(page):
            wide = text_width_mm(item.text, item.style)
            if not item.upright:
                continue
            left = item.x - {"left": 0.0, "middle": wide / 2, "right": wide}[item.align]
            assert left + wide <= page.paper.width_mm - SIDE_MM + 0.3, item.text
            spans.append((round(item.y, 2), left, left + wide))
        spans.sort()
        for one, other in pairwise(spans):
            assert one[0] != other[0] or one[2] <= other[1] + 0.05


def test_maps_are_numbered_and_at_round_scales(pack):
    maps = [one for page in pack.document.pages for one in page.maps]
    assert [one.name for one in maps] == [f"map {number}" for number in range(1, len(maps) + 1)]
    said = [item.text for page in pack.document.pages for item in texts(page)]
    for number, one in enumerate(maps, 1):
        assert any(text.startswith(f"Map {number} of {len(maps)}.") for text in said)
        ratio = f"1:{round(one.view.scale_denominator):,} at A4".replace(",", "\u202f")
        assert ratio in said
        assert (one.view.width_mm, one.view.height_mm) == one.frame[2:]


def test_several_plans_each_have_their_tables(farm, tmp_path):
    made = make_pack(farm, ON, options(plans=("lower sedge", "Upper Sedge"), parts=("works", "plants", "costs")))
    said = " ".join(words_of(made.document, tmp_path / "pack.pdf"))
    for name in ("Lower Sedge", "Upper Sedge"):
        for what in ("zones", "plants to order", "budget"):
            assert f"{name}: {what}" in said


def test_own_words_stand_in_place_of_the_introduction_or_behind_it(farm, tmp_path):
    texts_ = {
        "summary": "We have lived beside this creek since 1961.",
        "Permissions and cautions to check": "+ Asked the council in May.",
    }
    chosen = options(parts=("summary", "permissions"), texts=texts_)
    said = " ".join(words_of(compose_pack(farm, ON, chosen), tmp_path / "pack.pdf"))
    assert "since 1961" in said
    assert "This pack shows" not in said
    assert said.index("What to ask and to check") < said.index("Asked the council in May.")


def test_kept_parts_and_texts_hold_until_others_are_given(farm):
    proposed = parts_kept(farm, "Council", ["cover", "summary", "location"], ["cover", "summary"], {"cover": "Ours."})
    kept = proposed.edit.apply(farm)
    assert titles(compose_pack(kept, ON, options(pack="council"))) == ["Riparian cover", "Summary"]
    state = {one.key: one for one in part_states(kept, ON, options(pack="Council"))}
    assert (state["cover"].text, state["location"].taken, state["costs"].taken) == ("Ours.", False, False)
    assert titles(compose_pack(kept, ON, options(pack="Council", parts=("location",)))) == ["Location"]
    assert len(titles(compose_pack(kept, ON, options(pack="Another")))) == len(PARTS) - len(PLANLESS)
    assert [one.part for one in kept_parts(kept, "COUNCIL")] == ["cover", "summary", "location"]


def test_an_unknown_part_is_refused_with_the_nearest(farm):
    with pytest.raises(BadInput, match=r"no part called 'sumary'.*Is summary meant\?"):
        compose_pack(farm, ON, options(parts=("sumary",)))
    with pytest.raises(BadInput, match="no part called 'weather' in the pack; there are: summary, location"):
        part_key("weather")
    assert part_key(" Fence and WATER ") == "fence"


def test_an_unknown_plan_or_look_is_refused(farm):
    with pytest.raises(BadInput, match="no plan called Nowhere"):
        make_pack(farm, ON, options(plans=("Nowhere",)))
    with pytest.raises(BadInput, match="no look"):
        make_pack(farm, ON, options(look="sepia"))


def test_a_plan_that_came_out_otherwise_is_said(farm):
    trees = farm.trees[(farm.trees["plan"] != "Lower Sedge") | (farm.trees.index % 2 == 0)]
    measurements = farm.measurements[farm.measurements["tree"].isin(trees.index)]
    made = make_pack(farm.with_tables(trees=trees, measurements=measurements), ON, options(plans=("Lower Sedge",)))
    assert any("made again from its recipe" in message for message in made.messages)


def test_a_farm_with_nothing_on_it_has_a_pack_too(tmp_path):
    farm = new_farm("Bare Hill", "EPSG:2193")
    made = make_pack(farm, ON, options())
    said = " ".join(words_of(made.document, tmp_path / "bare.pdf"))
    assert "Nothing is drawn on Bare Hill yet" in said
    assert "No photo points yet" in said
    assert any("no blocks are drawn" in message for message in made.messages)


@pytest.mark.parametrize("look", LOOKS)
def test_every_look_and_paper_is_made(farm, look):
    made = make_pack(farm, ON, options(plans=("Lower Sedge",), look=look, paper="A3", parts=("works", "cover")))
    assert {page.theme.name for page in made.document.pages} == {LOOKS[look]}
    assert {(page.paper.width_mm, page.paper.height_mm) for page in made.document.pages} == {(297.0, 420.0)}


def test_the_file_has_bookmarks_where_parts_begin(pack, tmp_path):
    write_document(pack.document, tmp_path / "pack.pdf")
    with pikepdf.open(tmp_path / "pack.pdf") as pdf, pdf.open_outline() as outline:
        assert len(pdf.pages) == len(pack.document.pages)
        assert [str(item.title) for item in outline.root] == titles(pack.document)


def test_permissions_come_from_what_is_on_the_map(farm, tmp_path):
    said = " ".join(words_of(compose_pack(farm, ON, options(parts=("permissions",))), tmp_path / "a.pdf"))
    assert "Power line" in said
    assert "Works in or beside water" in said
    bare = small_farm()
    bare = bare.with_tables(hazards=bare.hazards[:0], creeks=bare.creeks[:0], trees=bare.trees[:0])
    said = " ".join(words_of(compose_pack(bare, ON, options(parts=("permissions",))), tmp_path / "b.pdf"))
    assert "Power line" not in said
    assert "Works in or beside water" not in said
    assert "Cultural heritage" in said


def test_the_data_hold_what_the_farm_and_the_plan_do(farm, pack, tmp_path):
    folder = tmp_path / "data"
    names = write_data_folder(folder, data_of(pack.context, pack.tables))
    assert {path.name for path in folder.iterdir()} == set(names)
    layers = {str(name) for name, _ in pyogrio.list_layers(folder / LAYERS_FILE)}
    assert {
        "blocks",
        "creeks",
        "margins",
        "fences",
        "planned_plants",
        "planned_zones",
        "planned_fences",
        "trees",
    } <= layers
    (one,) = pack.context.plans
    plants = gpd.read_file(folder / LAYERS_FILE, layer="planned_plants")
    assert len(plants) == len(one.plan.plants)
    assert plants.crs.to_epsg() == farm.settings.epsg
    assert {(round(x, 6), round(y, 6)) for x, y in zip(plants.geometry.x, plants.geometry.y, strict=True)} == {
        (round(x, 6), round(y, 6)) for x, y in zip(one.plan.plants.x, one.plan.plants.y, strict=True)
    }
    blocks = gpd.read_file(folder / LAYERS_FILE, layer="blocks")
    assert blocks["name"].tolist() == farm.blocks["name"].tolist()
    assert all(shapely.equals(blocks.geometry.to_numpy(), farm.blocks.geometry.to_numpy()))
    with (folder / "budget.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["total"] or 0) for row in rows] == [(line.cents or 0) / 100 for line in one.report.costs.lines]
    readme = (folder / README_FILE).read_text(encoding="utf-8")
    assert all(name in readme for name in names if name != README_FILE)
    assert "EPSG:2193" in readme
    assert set(TABLES["creeks"].column_names) <= set(gpd.read_file(folder / LAYERS_FILE, layer="creeks").columns)


def test_data_leave_other_files_and_farms_alone(farm, pack, tmp_path):
    folder = tmp_path / "data"
    data = data_of(pack.context, pack.tables)
    write_data_folder(folder, data)
    (folder / "mine.txt").write_text("mine", encoding="utf-8")
    less = data_of(pack.context, pack.tables[:2])
    names = write_data_folder(folder, less)
    assert {path.name for path in folder.iterdir()} == {*names, "mine.txt"}
    other = tmp_path / "other"
    other.mkdir()
    write_farm(farm, other / LAYERS_FILE)
    before = (other / LAYERS_FILE).read_bytes()
    with pytest.raises(BadInput, match="was not written by farmmap as data"):
        write_data_folder(other, data)
    assert (other / LAYERS_FILE).read_bytes() == before
    assert [path.name for path in other.iterdir()] == [LAYERS_FILE]
    with pytest.raises(BadInput, match="is a file"):
        write_data_folder(folder / "mine.txt", data)
    assert json.dumps([path.name for path in tmp_path.iterdir() if path.name.startswith(".")]) == "[]"


def test_the_way_in_is_where_a_track_meets_the_boundary(farm, tmp_path):
    assert ways_in(farm) == ()
    tracks = farm.tracks.copy()
    tracks["geometry"] = [shapely.LineString([(EAST + 50, NORTH + 95), (EAST + 50, NORTH + 300)])]
    met = farm.with_tables(tracks=tracks)
    assert ways_in(met) == (("Ridge track", pytest.approx(EAST + 50), pytest.approx(NORTH + 120)),)
    said = " ".join(words_of(compose_pack(met, ON, options(parts=("location",))), tmp_path / "pack.pdf"))
    assert "Ridge track meets the boundary" in said
    assert "way in" in said


def test_keys_hold_only_what_their_map_shows(farm):
    hazards = farm.hazards.copy()
    far = hazards.iloc[[0]].copy()
    far["kind"], far.index = "pipeline", [int(hazards.index.max()) + 1]
    far["geometry"] = [shapely.LineString([(EAST + 900, NORTH), (EAST + 900, NORTH + 100)])]
    with_pipe = farm.with_tables(hazards=pd.concat([hazards, far]))
    made = compose_pack(with_pipe, ON, options(plans=("Lower Sedge",), parts=("location", "existing", "works")))
    said = {mark.words: [item.text for item in texts(page)] for page in made.pages for mark in page.bookmarks}
    assert "pipeline" in said["Location"]
    for part in ("Existing state", "Planned works"):
        assert "creek" in said[part]
        assert "pipeline" not in said[part]


def test_cover_of_whole_margins_is_told_before_and_after(pack):
    (table,) = [table for table in pack.tables if table.key == "margins_grown"]
    (margins_table,) = [table for table in pack.tables if table.key == "margins"]
    told = [row[margins_table.columns.index(next(c for c in margins_table.columns if c.key == "cover_percent"))]
            for row in margins_table.rows]  # fmt: skip
    assert [row[3] for row in table.rows] == pytest.approx(told)
    assert any(row[-1] > row[3] for row in table.rows)
    assert all(list(row[3:]) == sorted(row[3:]) for row in table.rows)
    assert [column.key for column in table.columns[3:]] == [
        "before_percent", "after_5_years_percent", "after_10_years_percent", "after_20_years_percent"
    ]  # fmt: skip


def test_letters_that_no_typeface_has_are_said(farm):
    made = make_pack(farm, ON, options(parts=("summary",), texts={"summary": "Marked \U00013000 on the post."}))
    assert any("no typeface" in message for message in made.messages)
