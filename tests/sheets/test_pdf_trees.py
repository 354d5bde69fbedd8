"""Trees and crowns that are put into a PDF as forms look as a painter would paint them."""

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pikepdf
import pytest

from farmmap.drawing.map_painter import MapPainter
from farmmap.scene.build import build_scene
from farmmap.scene.paper import Paper
from farmmap.scene.scene import CROP, TAKE, CrownLayer, TreeLayer
from farmmap.scene.styles import theme
from farmmap.scene.view import View
from farmmap.sheets.page import Document, MapOnPage, Page
from farmmap.sheets.write import write_document
from farmmap.sheets.writing import pdf_file
from tests.scene.made_farm import EAST, NORTH, made_farm
from tests.sheets.alike import Difference, difference, paper_picture

ON = dt.date(2025, 1, 1)
DOTS_PER_INCH = 200
BOUND = Difference(share=0.0002, most=0.05)
VIEWS = {
    "close": View(EAST + 330, NORTH + 100, 0.8, 90.0, 60.0),
    "whole": View(EAST + 600, NORTH + 440, 12.0, 90.0, 60.0),
    "turned": View(EAST + 330, NORTH + 600, 2.0, 90.0, 60.0, rotation=30.0),
}


@pytest.fixture(scope="module")
def farm():
    return made_farm(12, 1500)


def document(farm, view, look="paper"):
    """Two maps on a page, the second small and over the first."""
    scene = build_scene(farm, ON, theme=theme(look))
    marked = tuple(_marked(layer) if isinstance(layer, TreeLayer) else layer for layer in scene.layers)
    scene = replace(scene, layers=marked)
    small = MapOnPage((60.0, 40.0, 30.0, 20.0), replace(view, width_mm=30.0, height_mm=20.0), scene, ())
    maps = (MapOnPage((5.0, 5.0, 90.0, 60.0), view, scene, ()), small)
    return Document("Trees", "Trees", farm, (Page(Paper("small", 100.0, 70.0), scene.theme, maps, ()),))


def _marked(trees):
    marks = np.zeros(len(trees.x), np.int8)
    marks[::7], marks[3::7] = CROP, TAKE
    return replace(trees, marks=marks)


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("look", ["paper", "paper grey"])
def test_forms_look_as_painted(farm, view, look, tmp_path, monkeypatch):
    made = document(farm, VIEWS[view], look)
    write_document(made, tmp_path / "forms.pdf")
    monkeypatch.setattr(pdf_file, "MapPainter", lambda tiles, _: MapPainter(tiles))
    write_document(made, tmp_path / "painted.pdf")
    forms, painted = (paper_picture(tmp_path / f"{name}.pdf", DOTS_PER_INCH) for name in ("forms", "painted"))
    found = difference(forms, painted, DOTS_PER_INCH / 25.4)
    assert found.share <= BOUND.share, found
    assert found.most <= BOUND.most, found
    assert forms.std() > 10  # something is drawn


def test_what_is_missing_would_be_seen(farm, tmp_path):
    made = document(farm, VIEWS["close"])
    write_document(made, tmp_path / "all.pdf")
    (page,) = made.pages
    for kind in (TreeLayer, CrownLayer):
        maps = tuple(
            replace(
                one,
                scene=replace(one.scene, layers=tuple(one for one in one.scene.layers if not isinstance(one, kind))),
            )
            for one in page.maps
        )
        write_document(replace(made, pages=(replace(page, maps=maps),)), tmp_path / "fewer.pdf")
        pictures = [paper_picture(tmp_path / f"{name}.pdf", DOTS_PER_INCH) for name in ("all", "fewer")]
        assert difference(*pictures, DOTS_PER_INCH / 25.4).most > 4 * BOUND.most


def test_a_tree_takes_few_bytes_and_a_look_is_written_once(farm, tmp_path):
    many = made_farm(12, 6000)
    sizes = []
    for one in (farm, many):
        write_document(document(one, VIEWS["whole"]), tmp_path / "trees.pdf")
        sizes.append((tmp_path / "trees.pdf").stat().st_size)
    assert (sizes[1] - sizes[0]) / 4500 < 30  # with its crown, and on two maps
    with pikepdf.open(tmp_path / "trees.pdf") as pdf:
        forms = [one for one in pdf.pages[0].resources.XObject.values() if one.Subtype == "/Form"]
        put_down = sum(len(re.findall(rb"/T\d+ Do", part.read_bytes())) for part in pdf.pages[0].Contents)
    assert len({one.objgen for one in forms}) == len(forms) < 200
    assert put_down > 5000


def test_trees_outside_the_map_are_left_out(farm, tmp_path):
    write_document(document(farm, VIEWS["close"]), tmp_path / "close.pdf")
    write_document(document(farm, VIEWS["whole"]), tmp_path / "whole.pdf")
    assert (tmp_path / "close.pdf").stat().st_size < (tmp_path / "whole.pdf").stat().st_size / 2
