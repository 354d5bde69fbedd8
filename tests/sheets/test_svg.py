"""Pages as SVG, for the web."""

import base64
import re
import shutil
import subprocess
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtSvg import QSvgRenderer

from farmmap.drawing.svg_device import SvgDevice
from farmmap.scene.paper import Paper
from farmmap.scene.scene import CrownLayer, TreeLayer
from farmmap.sheets.write import page_picture, write_document
from tests.scene.made_farm import made_farm
from tests.sheets.alike import difference, dots_of
from tests.sheets.test_pdf_trees import VIEWS, document
from tests.sheets.test_same_drawing import BOUND, is_within, small_page

DOTS_PER_INCH = 300
NAMES = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def farm():
    return made_farm(12, 1500)


def test_its_size_is_exact_and_its_letters_are_outlines(tmp_path):
    write_document(small_page(), tmp_path / "page.svg")
    root = ET.parse(tmp_path / "page.svg").getroot()
    assert (root.get("width"), root.get("height")) == ("110mm", "84mm")
    assert root.get("viewBox") == "0 0 11000 8400"
    assert root.find(f"{NAMES}title").text == "Small page"
    assert not list(root.iter(f"{NAMES}text"))
    assert len(list(root.iter(f"{NAMES}path"))) > 50


def test_each_tree_is_no_more_than_a_place(farm, tmp_path):
    made = document(farm, VIEWS["whole"])
    write_document(made, tmp_path / "page.svg")
    root = ET.parse(tmp_path / "page.svg").getroot()
    looks = {one.get("id") for one in root.iter(f"{NAMES}g") if re.fullmatch(r"t\d+", one.get("id", ""))}
    uses = [one.get("href").removeprefix("#") for one in root.iter(f"{NAMES}use")]
    trees = next(layer for layer in made.pages[0].maps[0].scene.layers if isinstance(layer, TreeLayer))
    assert len(uses) > len(trees.x)
    assert set(uses) == looks
    assert len(looks) < 200


def test_maps_are_cut_off_at_their_frames(farm, tmp_path):
    write_document(document(farm, VIEWS["close"]), tmp_path / "page.svg")
    root = ET.parse(tmp_path / "page.svg").getroot()
    clips = {one.get("id"): one[0].get("d") for one in root.iter(f"{NAMES}clipPath")}
    assert sorted(clips.values()) == [
        "M500 500L9500 500L9500 6500L500 6500L500 500Z",
        "M6000 4000L9000 4000L9000 6000L6000 6000L6000 4000Z",
    ]
    outside = [one for one in root if one.tag in {f"{NAMES}path", f"{NAMES}use"}]
    assert not outside
    used = {one.get("clip-path") for one in root.iter(f"{NAMES}g")} - {None}
    assert used == {f"url(#{name})" for name in clips}


def test_it_is_the_same_drawing(farm, tmp_path):
    """The map fills the page and has no crowns, as Qt's own reader knows no clips and no opacity of groups."""
    made = document(farm, VIEWS["close"])
    (page,) = made.pages
    scene = page.maps[0].scene
    scene = replace(scene, layers=tuple(layer for layer in scene.layers if not isinstance(layer, CrownLayer)))
    whole = replace(page.maps[0], frame=(0.0, 0.0, 90.0, 60.0), scene=scene)
    made = replace(made, pages=(replace(page, paper=Paper("small", 90.0, 60.0), maps=(whole,)),))
    write_document(made, tmp_path / "page.svg")
    screen = page_picture(made.pages[0], DOTS_PER_INCH)
    shown = QImage(screen.size(), QImage.Format.Format_ARGB32_Premultiplied)
    shown.fill(QColor("#FFFFFF"))
    painter = QPainter(shown)
    QSvgRenderer(str(tmp_path / "page.svg")).render(painter)
    painter.end()
    found = difference(dots_of(shown), dots_of(screen), DOTS_PER_INCH / 25.4)
    assert is_within(found, BOUND), found


@pytest.mark.skipif(shutil.which("rsvg-convert") is None, reason="librsvg is not installed here")
def test_another_library_paints_the_same_page(tmp_path):
    made = small_page()
    write_document(made, tmp_path / "page.svg")
    dots = str(DOTS_PER_INCH)
    command = ["rsvg-convert", "-d", dots, "-p", dots, "-b", "white", "page.svg", "-o", "page.png"]
    subprocess.run(command, cwd=tmp_path, check=True)
    shown = dots_of(QImage(str(tmp_path / "page.png")))
    found = difference(shown, dots_of(page_picture(made.pages[0], DOTS_PER_INCH)), DOTS_PER_INCH / 25.4)
    assert is_within(found, BOUND), found


def test_further_pages_go_beside_the_first(tmp_path):
    made = small_page()
    write_document(replace(made, pages=made.pages * 2), tmp_path / "map.svg")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["map-2.svg", "map.svg"]


@pytest.mark.parametrize(("kind", "named"), [("Format_RGB32", "jpeg"), ("Format_ARGB32", "png")])
def test_pictures_are_put_in_whole(kind, named):
    device = SvgDevice(50.0, 40.0, "Pictures & more", "")
    image = QImage(30, 20, getattr(QImage.Format, kind))
    image.fill(QColor(200, 30, 30, 128))
    painter = QPainter(device)
    painter.translate(100, 0)
    painter.drawImage(QRectF(0, 50, 300, 200), image)
    painter.end()
    root = ET.fromstring(device.text())
    (found,) = root.iter(f"{NAMES}image")
    assert [float(found.get(side)) for side in ("x", "y", "width", "height")] == [0, 50, 300, 200]
    assert found.get("transform") == "matrix(1 0 0 1 100 0)"
    kind, data = found.get("href").split(";base64,")
    assert kind == f"data:image/{named}"
    back = QImage.fromData(base64.b64decode(data))
    assert (back.width(), back.height(), back.hasAlphaChannel()) == (30, 20, named == "png")
