"""Field sheets of sample plots: the map with the way, the tables that are needed, and a box for each plot."""

from __future__ import annotations

import datetime as dt

import pdfplumber
import pytest
from click.testing import CliRunner

from farmmap.commands import main
from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.grids import Grid
from farmmap.figures.sampling.counts import plot_counts
from farmmap.figures.sampling.zones import PlotShape
from farmmap.files.farm_file import write_farm
from farmmap.plans.sampling.counting import plots_measured
from farmmap.plans.sampling.layout import Layout, plots_laid_out
from farmmap.plans.sampling.route import legs
from farmmap.plans.walk import bearings_from
from farmmap.scene.page_items import Text
from farmmap.scene.page_plots import LEAST_LINES, field_notes, limits_table, slope_table, way_table
from farmmap.scene.paper import paper_of
from farmmap.scene.sheet_layout import page_type
from farmmap.scene.styles import theme
from farmmap.sheets.plot_sheet import compose_plots
from farmmap.sheets.sheet import SheetOptions, write_sheet

ON = dt.date(2021, 1, 1)
OPTIONS = SheetOptions(printed_on=ON, landscape=False)


def laid_out(farm, plots=4, **how):
    return plots_laid_out(
        farm, [2], Layout(plots=plots, **{"shape": PlotShape("circle", radius_m=7.98), **how})
    ).edit.apply(farm)


def texts(boxes):
    return [item.text for box in boxes for item in box.items if isinstance(item, Text)]


def test_a_map_page_and_boxes_for_each_plot(farm):
    sheet = compose_plots(laid_out(farm), 2, ON, OPTIONS)
    assert sheet.title == "Sample plots of Far Slope"
    said = texts(sheet.plan.boxes)
    assert "The way from plot to plot" in said
    assert "nearest place on Ridge track" in said
    assert "On a slope" in said
    assert not any("Angle count" in text for text in said)
    boxes = [box for box in sheet.second if box.name == "plot"]
    assert len(boxes) == 4
    assert [box.items[0].text for box in boxes] == ["Plot 1", "Plot 2", "Plot 3", "Plot 4"]
    assert "circle, radius 7.98 m; slope ______ °" in texts(sheet.second)
    assert any("write 2 under counts" in text for text in [" ".join(texts(sheet.second))])
    assert "two pages" in sheet.words


def test_boxes_lie_on_the_paper_and_none_on_another(farm):
    sheet = compose_plots(laid_out(farm, 30), 2, ON, OPTIONS)
    paper = paper_of("A4", landscape=False)
    assert len(sheet.more_pages) == 5
    assert "6 pages" in sheet.words
    assert sum(box.name == "plot" for page in sheet.more_pages for box in page) == 30
    for page in sheet.more_pages:
        for place, box in enumerate(page):
            assert box.x >= 9.99
            assert box.x + box.width <= paper.width_mm - 9.99
            assert box.y + box.height <= paper.height_mm - 9.9
            for other in page[place + 1 :]:
                apart = box.x + box.width <= other.x or other.x + other.width <= box.x
                assert apart or box.y + box.height <= other.y or other.y + other.height <= box.y
        lines = {item.points[0][1] for item in page[1].items if hasattr(item, "points")}
        assert len(lines) >= LEAST_LINES


def test_only_plots_that_are_to_be_measured_are_walked_to(farm):
    after = laid_out(farm)
    some = plots_measured(after, [1, 3], ON).edit.apply(after)
    sheet = compose_plots(some, 2, ON, OPTIONS)
    assert [box.items[0].text for box in sheet.second if box.name == "plot"] == ["Plot 2", "Plot 4"]
    assert "4 plots, 2 to measure" in " ".join(texts(sheet.plan.boxes))
    done = plots_measured(some, [2, 4], ON).edit.apply(some)
    assert len([box for box in compose_plots(done, 2, ON, OPTIONS).second if box.name == "plot"]) == 4


def test_angle_counts_come_with_their_limiting_distances(farm):
    sheet = compose_plots(laid_out(farm, shape=PlotShape("angle count", baf_m2=2.0), slope_deg=12.0), 2, ON, OPTIONS)
    assert "Angle count, factor 2, gauge 1.62°: counted up to" in texts(sheet.plan.boxes)
    assert "angle count, factor 2 m²/ha; slope 12°" in texts(sheet.second)
    row = next(row for row in limits_table(2.0).cells if row[0] == "30")
    assert row[1] == "10.61"  # 30 cm at factor 2: 10.607 m
    assert row[3] == "11.29"  # 11.287 m along 20 degrees


def test_a_strip_says_how_it_runs_from_true_north(farm):
    after = laid_out(farm, shape=PlotShape("strip", length_m=20.0, width_m=4.0, bearing_deg=90.0))
    runs = {round(leg.runs_deg) for leg in legs(after, 2)}
    assert len(runs) == 1
    (way,) = runs
    assert way != 90
    assert abs(way - 90) <= 4  # the grid's north lies a little beside true north
    said = texts(compose_plots(after, 2, ON, OPTIONS).second)
    assert f"strip, 20 × 4 m, bearing {way}°; slope ______ °" in said
    assert "from there it runs" in " ".join(said)


@pytest.mark.parametrize("room_mm", [60.0, 80.0])
def test_no_column_of_the_way_runs_over_the_edge_of_its_table(farm, room_mm):
    named = laid_out(farm.with_tables(tracks=farm.tracks.assign(name="Old bullock track to the top of the ridge")))
    type_ = page_type(paper_of("A4", landscape=False), theme("paper"), text_width_mm)
    box = way_table(legs(named, 2)).box(type_, room_mm, 100.0)
    said = [item for item in box.items if isinstance(item, Text)]
    assert max(item.x for item in said) <= room_mm + 1e-6
    (first,) = [item.text for item in said if item.text.startswith("nearest")]
    assert first.endswith("…")


def test_on_a_local_grid_bearings_are_from_the_north_of_the_map(farm):
    counts = plot_counts(laid_out(farm, 4))
    assert (
        "Bearings are from the north of the map." in field_notes(counts, [0], bearings_from(Grid(2193, local=True)))[0]
    )


def test_the_slope_table_gives_tape_and_radius():
    row = next(row for row in slope_table([11.283792]).cells if row[0] == "20°")
    assert row == ("20°", "10.64", "11.64")


def test_it_is_written_as_pages_of_one_pdf_and_as_pictures(farm, tmp_path):
    sheet = compose_plots(laid_out(farm, 8), 2, ON, OPTIONS)
    write_sheet(sheet, tmp_path / "plots.pdf")
    with pdfplumber.open(tmp_path / "plots.pdf") as pdf:
        assert len(pdf.pages) == 3
        assert "Sample plots of Far Slope" in pdf.pages[0].extract_text()
        assert "Plot 8" in pdf.pages[2].extract_text()
        assert "Bearings are from true north." in " ".join(page.extract_text() for page in pdf.pages).replace("\n", " ")
        assert all(float(page.width) == pytest.approx(210 / 25.4 * 72, abs=0.01) for page in pdf.pages)
    write_sheet(sheet, tmp_path / "plots.png")
    assert sorted(path.name for path in tmp_path.glob("*.png")) == ["plots-2.png", "plots-3.png", "plots.png"]


def test_without_plots_there_is_no_sheet(farm):
    with pytest.raises(BadInput, match="no sample plots are laid out in Far Slope"):
        compose_plots(farm, 2, ON, OPTIONS)


def test_the_command_names_a_sheet_for_each_block_after_it(farm, tmp_path):
    path = tmp_path / "farm.gpkg"
    named = farm.with_tables(blocks=farm.blocks.assign(name=["Top / left", "Far Slope"]))
    write_farm(plots_laid_out(named, [1, 2], Layout(plots=4, shape=PlotShape(radius_m=5.0))).edit.apply(named), path)
    done = CliRunner().invoke(main, ["plots", str(path), "--compass", "--out", str(tmp_path / "sheet.pdf")])
    assert done.exit_code == 0, done.output
    assert {one.name for one in tmp_path.glob("*.pdf")} == {"sheet Top _ left.pdf", "sheet Far Slope.pdf"}
    with pdfplumber.open(tmp_path / "sheet Far Slope.pdf") as pdf:
        assert "A compass needle points" in pdf.pages[0].extract_text()


@pytest.mark.parametrize("landscape", [False, True])
def test_on_small_paper_the_boxes_stay_large_and_what_has_no_room_follows_the_map(farm, landscape):
    paper = paper_of("A5", landscape=landscape)
    sheet = compose_plots(laid_out(farm, 12), 2, ON, SheetOptions("A5", landscape=landscape, printed_on=ON))
    assert sheet.plan.paper == paper
    assert sum(box.name == "plot" for page in sheet.more_pages for box in page) == 12
    for page in sheet.more_pages:
        for box in page:
            assert box.x + box.width <= paper.width_mm - 9.9
            assert box.y + box.height <= paper.height_mm - 9.9
    with pytest.raises(BadInput, match="A6 is too small for boxes that can be written in"):
        compose_plots(laid_out(farm, 12), 2, ON, SheetOptions("A6", landscape=landscape))
