"""A page a block, and a grid of sheets over a farm."""

import datetime as dt
import re

import numpy as np
import pytest
import shapely

from farmmap.errors import BadInput
from farmmap.farm.farm import new_farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.result import shown
from farmmap.scene.page_items import Text
from farmmap.scene.page_moves import Moved
from farmmap.scene.page_series import OVERLAP, grid_of
from farmmap.sheets.page import SheetOptions
from farmmap.sheets.series import compose_series
from farmmap.sheets.write import write_document
from tests.scene.made_farm import made_farm
from tests.sheets.strange_farms import STRANGE

ON = dt.date(2025, 1, 1)


def said(page):
    return [item.text for box in page.boxes for item in box.items if isinstance(item, Text)]


def on_map(page):
    return [item.text for item in page.maps[0].over_map if isinstance(item, Text)]


@pytest.fixture(scope="module")
def farm():
    return made_farm(5, 120)


@pytest.fixture(scope="module")
def blocks(farm):
    return compose_series(farm, ON, SheetOptions("A4"))


@pytest.fixture(scope="module")
def grid(farm):
    return compose_series(farm, ON, SheetOptions("A4", True, scale=2500), "grid")


def test_every_block_has_a_page_with_its_own_map_and_figures(farm, blocks):
    rows = block_figures(farm, ON).rows
    assert len(blocks.pages) == len(rows) + 1
    for number, (page, row, ground) in enumerate(zip(blocks.pages[1:], rows, farm.blocks.geometry, strict=True), 2):
        words = " ".join(said(page))
        assert str(row["name"]) in said(page)
        assert f"page {number} of {len(blocks.pages)}" in words
        assert f"{shown('net_area_ha', row['net_area_ha'])} ha" in words
        assert shapely.box(*page.maps[0].view.ground_bounds()).contains(ground)
        assert [one.name for one in page.maps] == ["map", "overview"]
        assert [mark.words for mark in page.bookmarks] == [str(row["name"])]


def test_pages_lie_one_way_and_a_grid_finds_its_own_scale(farm, blocks):
    assert len({page.paper for page in blocks.pages[1:]}) == 1
    free = compose_series(farm, ON, SheetOptions("A4"), "grid")
    views = [page.maps[0].view for page in free.pages[1:]]
    assert len({page.paper for page in free.pages[1:]}) == 1
    assert len({view.metres_per_mm for view in views}) == 1
    covered = shapely.union_all([shapely.box(*view.ground_bounds()) for view in views])
    assert covered.buffer(1e-6).contains(shapely.union_all(farm.boundary.geometry.to_numpy()))


def test_the_first_page_shows_every_frame_with_its_number(blocks):
    numbers = [text for text in on_map(blocks.pages[0]) if text.isdigit()]
    assert numbers == [str(number) for number in range(2, len(blocks.pages) + 1)]
    assert blocks.pages[0].bookmarks[0].words == "All maps"


def test_an_index_of_two_pages_counts_as_two(tmp_path):
    farm = made_farm(14, 40)
    series = compose_series(farm, ON, SheetOptions("A5"))
    before = len(series.pages) - 14
    assert before > 1
    assert f"page 1 of {len(series.pages)}" in " ".join(said(series.pages[0]))
    assert f"page {before + 1} of {len(series.pages)}" in " ".join(said(series.pages[before]))
    numbers = [text for text in on_map(series.pages[0]) if text.isdigit()]
    assert numbers == [str(number) for number in range(before + 1, len(series.pages) + 1)]
    assert str(len(series.pages)) in said(series.pages[0])  # the list of pages has room beside the map, others have not
    assert any("Blocks" in text for page in series.pages[1:before] for text in said(page))
    signs = [
        int(found[1])
        for page in series.pages[before:]
        for sign in on_map(page)
        if (found := re.search(r"page (\d+)", sign))
    ]
    assert min(signs) > before


def test_pages_name_those_beside_them_where_they_lie(farm, blocks):
    middles = shapely.get_coordinates(shapely.centroid(farm.blocks.geometry.to_numpy()))
    for place, page in enumerate(blocks.pages[1:]):
        for sign in on_map(page):
            found = re.match(r"([←→↑↓]) page (\d+)", sign)
            if found is None or found[1] in "↑↓":  # arrows of signs that are turned lie otherwise
                continue
            away = middles[int(found[2]) - 2] - middles[place]
            assert np.sign(away[0]) == {"→": 1, "←": -1}[found[1]]


def test_sheets_of_a_grid_cover_the_farm_at_one_scale_and_overlap(farm, grid):
    views = [page.maps[0].view for page in grid.pages[1:]]
    assert {round(view.scale_denominator) for view in views} == {2500}
    covered = shapely.union_all([shapely.box(*view.ground_bounds()) for view in views])
    assert covered.buffer(1e-6).contains(shapely.union_all(farm.boundary.geometry.to_numpy()))
    numbers = {
        int(found[1]) for page in grid.pages[1:] for sign in on_map(page) if (found := re.search(r"page (\d+)", sign))
    }
    assert numbers <= set(range(2, len(grid.pages) + 1))
    assert len(numbers) > 1


def test_cells_of_a_grid_lie_in_the_middle_and_overlap_as_they_should():
    cells = grid_of((0.0, 0.0, 1000.0, 400.0), 400.0, 300.0)
    boxes = np.array([cell.bounds for cell in cells])
    assert boxes[:, 0].min() <= 0
    assert boxes[:, 2].max() >= 1000
    assert boxes[:, 0].min() + boxes[:, 2].max() == pytest.approx(1000)
    first, second = (cell.bounds for cell in cells[:2])
    assert first[2] - second[0] == pytest.approx(OVERLAP * 400)
    assert len(grid_of((0.0, 0.0, 100.0, 100.0), 400.0, 300.0)) == 1


def test_a_strip_of_ten_kilometres_is_shared_among_sheets_along_it():
    pages = compose_series(STRANGE["10 km by 50 m"](), ON, SheetOptions("A4"), "grid").pages
    assert 8 <= len(pages) <= 13
    frames = [page.maps[0].frame for page in pages]
    assert all(high < 0.4 * wide for _, _, wide, high in frames)
    assert len({page.paper.is_landscape for page in pages}) == 1
    assert max(page.maps[0].view.scale_denominator for page in pages[1:]) <= 5000


def test_a_series_is_written_as_one_file(blocks, tmp_path):
    write_document(blocks, tmp_path / "blocks.pdf")
    assert (tmp_path / "blocks.pdf").stat().st_size > 20_000


def test_a_series_that_cannot_be_made_is_refused_in_words(farm):
    with pytest.raises(BadInput, match="no blocks are drawn"):
        compose_series(made_farm(0, 20), ON)
    with pytest.raises(BadInput, match="nothing is drawn"):
        compose_series(new_farm("Pipit Downs", "EPSG:2193"), ON)
    with pytest.raises(BadInput, match="not of 'rows'"):
        compose_series(farm, ON, of="rows")
    with pytest.raises(BadInput, match="pages; take a smaller scale"):
        compose_series(farm, ON, SheetOptions("A5", scale=100), "grid")
    with pytest.raises(BadInput, match="arranged by farmmap"):
        compose_series(farm, ON, SheetOptions(moved=(Moved("key", 1.0, 1.0),)))
