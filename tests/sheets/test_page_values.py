"""Every paper both ways at every scale: what is printed stands where it must, read back by other libraries."""

import datetime as dt
import json
import re
import shutil
import subprocess
from functools import cache

import numpy as np
import pikepdf
import pyproj
import pytest
import shapely

from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.grids import transform
from farmmap.farm.schema import TABLES
from farmmap.scene.paper import PAPERS, TIMES_A4
from farmmap.sheets.page import Document
from farmmap.sheets.sheet import SheetOptions, compose
from farmmap.sheets.write import write_document
from tests.sheets.printed import printed_pages

ON = dt.date(2025, 1, 1)
SCALES = (500, 1000, 2500, 5000, 10_000, 25_000)
NO_WORDS = frozenset({"key", "blocks", "notes"})
"""Elements that have nothing to be measured, left out as arranging them takes most of the time."""

PLACES = {2193: (175.5, -40.8), 27700: (-2.5, 54.2), 32718: (-73.0, -39.8), 7855: (147.1, -42.0)}
"""Longitude and latitude of a place on each of some grids: New Zealand, Britain, Chile, Tasmania."""


@cache
def one_block(epsg, size_m):
    """A farm of one block with a corner more than a square; the same at each call, so that its figures are there."""
    farm = new_farm("Kestrel Flat", epsg)
    lon, lat = PLACES[epsg]
    (x,), (y,) = transform([lon], [lat], 4326, epsg)
    corners = np.array([(-0.5, -0.5), (0.4, -0.45), (0.5, 0.1), (0.2, 0.5), (-0.45, 0.4)]) * size_m + (x, y)
    blocks = shaped(
        TABLES["blocks"], {"name": ["Block 1"], "geometry": [shapely.Polygon(corners)]}, np.array([1]), farm.grid
    )
    return farm.with_tables(blocks=blocks)


def document_of(epsg, wanted):
    """Sheets of such a farm, 24 mm across on each paper, as the pages of one document."""
    sheets = [
        compose(one_block(epsg, scale * 0.024), ON, SheetOptions(paper, landscape, scale, left_out=NO_WORDS))
        for paper, landscape, scale in wanted
    ]
    pages = tuple(next(page for page in sheet.pages if page.maps) for sheet in sheets)
    return sheets, Document("Kestrel Flat", "Maps of Kestrel Flat", sheets[0].farm, pages)


@pytest.fixture(scope="module", params=PAPERS)
def printed(request, tmp_path_factory):
    """Every scale on one paper, both ways, with what is read back of it."""
    wanted = [(request.param, landscape, scale) for landscape in (False, True) for scale in SCALES]
    sheets, document = document_of(2193, wanted)
    path = tmp_path_factory.mktemp("values") / "sheets.pdf"
    write_document(document, path)
    return sheets, printed_pages(path), path


def test_pages_are_exactly_as_large_as_the_paper(printed):
    sheets, pages, path = printed
    for sheet, page in zip(sheets, pages, strict=True):
        assert abs(page.width_mm - sheet.plan.paper.width_mm) < 0.01
        assert abs(page.height_mm - sheet.plan.paper.height_mm) < 0.01
    with pikepdf.open(path) as pdf:
        for sheet, page in zip(sheets, pdf.pages, strict=True):
            for box in (page.mediabox, page.cropbox, page.trimbox):
                assert [float(side) * 25.4 / 72 for side in box] == pytest.approx(
                    [0, 0, sheet.plan.paper.width_mm, sheet.plan.paper.height_mm], abs=0.01
                )


def test_the_bar_is_as_long_as_it_says(printed):
    for sheet, page in zip(*printed[:2], strict=True):
        box = next(box for box in sheet.plan.boxes if box.name == "scale bar")
        x, y = page.corners.T
        inside = (x >= box.x - 0.5) & (x <= box.x + box.width + 0.5) & (y >= box.y) & (y <= box.y + box.height)
        times, foot = TIMES_A4[sheet.plan.paper.name], float(y[inside].max())
        words = page.words_between(foot, foot + 4 * times, gap_mm=0.6 * times)
        said = " ".join(word.text for word in words if box.x - 3 < word.left < box.x + box.width + 8)
        length, unit = re.search(r"(\d+) ?(k?m)\b", said).groups()
        metres = float(length) * (1000 if unit == "km" else 1)
        measured = np.ptp(x[inside])
        assert abs(measured - metres / sheet.plan.scale * 1000) < 0.2, (sheet.words, said)


def test_ticks_stand_where_their_coordinates_say(printed):
    for sheet, page in zip(*printed[:2], strict=True):
        left, top, wide, high = sheet.plan.frame
        upright = np.abs(page.strokes[:, 0] - page.strokes[:, 2]) < 0.01
        at_foot = np.abs(page.strokes[:, [1, 3]].max(axis=1) - top - high) < 0.1
        feet = page.strokes[upright & at_foot, 0]
        words = page.words_between(top + high, top + high + 6, gap_mm=2.0 * TIMES_A4[sheet.plan.paper.name])
        labels = {float(word.text[1:]): word.middle for word in words if re.fullmatch(r"E\d+", word.text)}
        assert labels or wide < 90, sheet.words  # where no coordinate has room below a small map
        for metres, middle in labels.items():
            stroke = feet[np.abs(feet - middle).argmin()]
            assert abs(stroke - middle) < 0.6
            ground = sheet.plan.view.centre_x + (stroke - left - wide / 2) * sheet.plan.scale / 1000
            assert abs(ground - metres) / sheet.plan.scale * 1000 < 0.2


def test_known_corners_are_where_they_must_be(printed):
    for sheet, page in zip(*printed[:2], strict=True):
        left, top, wide, high = sheet.plan.frame
        view = sheet.plan.view
        for x, y in sheet.farm.blocks.geometry.iloc[0].exterior.coords:
            across = left + wide / 2 + (x - view.centre_x) / sheet.plan.scale * 1000
            down = top + high / 2 - (y - view.centre_y) / sheet.plan.scale * 1000
            assert np.hypot(*(page.corners - (across, down)).T).min() < 0.2, sheet.words


@cache
def ways_to_grid(wkt, epsg):
    """How degrees become metres by the number that a measure names, and by its words."""
    grids = pyproj.CRS.from_epsg(epsg), pyproj.CRS.from_wkt(wkt)
    return [pyproj.Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True) for grid in grids]


def ground_at_page_corners(viewport, width_mm, height_mm):
    """Where the corners of the page lie on the grid that the measure names, from the measure alone. [m]."""
    measure = viewport.Measure
    to_grid, by_words = ways_to_grid(str(measure.GCS.WKT), int(measure.GCS.EPSG))
    degrees = np.array([float(part) for part in measure.GPTS]).reshape(-1, 2)
    ground = np.column_stack(to_grid.transform(degrees[:, 1], degrees[:, 0]))
    assert np.abs(np.column_stack(by_words.transform(degrees[:, 1], degrees[:, 0])) - ground).max() < 0.001
    unit = np.array([float(part) for part in measure.LPTS]).reshape(-1, 2)
    fit, *_ = np.linalg.lstsq(np.column_stack([unit, np.ones(len(unit))]), ground, rcond=None)
    x0, y0, x1, y1 = (float(side) * 25.4 / 72 for side in viewport.BBox)
    page = np.array([(0, 0), (width_mm, 0), (width_mm, height_mm), (0, height_mm)])
    within = (page - (x0, y0)) / (x1 - x0, y1 - y0)
    return np.column_stack([within, np.ones(4)]) @ fit


def corners_of(sheet):
    """Where the corners of the page lie on the grid by the map's own scale, lower left first. [m]."""
    left, top, _, _ = sheet.plan.frame
    width, height = sheet.plan.paper.width_mm, sheet.plan.paper.height_mm
    across, down = np.array([(0, height), (width, height), (width, 0), (0, 0)]).T
    return np.column_stack(sheet.plan.view.to_ground(across - left, down - top))


def test_a_reader_finds_where_the_page_lies_on_the_earth(printed):
    sheets, _, path = printed
    with pikepdf.open(path) as pdf:
        for sheet, page in zip(sheets, pdf.pages, strict=True):
            (viewport,) = page.obj.VP
            found = ground_at_page_corners(viewport, sheet.plan.paper.width_mm, sheet.plan.paper.height_mm)
            assert np.hypot(*(found - corners_of(sheet)).T).max() < 0.5


@pytest.mark.parametrize("epsg", PLACES)
def test_the_place_is_read_on_other_grids_too(epsg, tmp_path):
    sheets, document = document_of(epsg, [("A4", True, 500), ("A0", False, 25_000)])
    write_document(document, tmp_path / "sheets.pdf")
    with pikepdf.open(tmp_path / "sheets.pdf") as pdf:
        for sheet, page in zip(sheets, pdf.pages, strict=True):
            found = ground_at_page_corners(page.obj.VP[0], sheet.plan.paper.width_mm, sheet.plan.paper.height_mm)
            assert np.hypot(*(found - corners_of(sheet)).T).max() < 0.5


@pytest.mark.skipif(shutil.which("gdalinfo") is None, reason="GDAL is not installed here")
@pytest.mark.parametrize("epsg", PLACES)
def test_another_library_reads_the_same_place(epsg, tmp_path):
    sheets, document = document_of(epsg, [("A3", True, 5000)])
    write_document(document, tmp_path / "sheet.pdf")
    command = ["gdalinfo", "-json", str(tmp_path / "sheet.pdf")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        pytest.skip("this GDAL reads no PDF")
    said = json.loads(done.stdout)
    assert pyproj.CRS.from_wkt(said["coordinateSystem"]["wkt"]).to_epsg() == epsg
    west, across, _, north, _, down = said["geoTransform"]
    wide, high = said["size"]
    found = np.array([(west, north + high * down), (west + wide * across, north + high * down)])
    assert np.abs(found - corners_of(sheets[0])[:2]).max() < 0.5


def test_a_grid_measured_from_a_post_lies_nowhere(tmp_path):
    farm = one_block(2193, 240)
    near_zero = shapely.box(100, 100, 340, 340)
    farm = farm.with_tables(blocks=farm.blocks.assign(geometry=[near_zero]))
    assert farm.grid.local
    sheet = compose(farm, ON, SheetOptions("A4", True, 5000))
    write_document(sheet.document(), tmp_path / "sheet.pdf")
    with pikepdf.open(tmp_path / "sheet.pdf") as pdf:
        assert "/VP" not in pdf.pages[0]
