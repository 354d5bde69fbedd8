"""Paper and screen are the same drawing, and the same as it was.

A small map with one of everything is written as a PDF, which an independent
library paints at 300 dots to the inch, and painted as a picture for the screen
at the same resolution. The two are compared by `tests.sheets.alike`, and both
with the pictures that are kept in ``tests/sheets/references``. Where the
drawing was changed on purpose, make these anew, and look at them:

    python -m tests.sheets.test_same_drawing

Letters and thin strokes are shaded by the two libraries each in its own way,
and trees are laid down on a screen to a quarter of a dot and in sizes of half
dots. When the bounds were set that came to 0.0005 of all dots and 0.03 of the
worst square, in the hatched look to 0.0017 and 0.11; a tree half a millimetre
from its place makes 0.46.
Of two trees that look alike and overlap, either may lie on top: the screen
goes by quarters of dots, paper by ground. The farm here has none.
"""

import datetime as dt
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtGui import QImage
from scipy.spatial import cKDTree

from farmmap.scene.build import build_scene
from farmmap.scene.page_items import Box, Disc, Sampled, Shape, Text
from farmmap.scene.paper import Paper
from farmmap.scene.scene import AreaLayer, TreeLayer
from farmmap.scene.styles import LOOKS, TextStyle, theme
from farmmap.scene.view import View
from farmmap.sheets.page import Document, MapOnPage, Page
from farmmap.sheets.write import page_picture, write_document
from tests.scene.made_farm import EAST, NORTH, made_farm
from tests.sheets.alike import Difference, difference, dots_of, paper_picture

ON = dt.date(2025, 1, 1)
REFERENCES = Path(__file__).parent / "references"
SIDES = ("paper", "screen")
DOTS_PER_INCH = 300
KEPT_DOTS_PER_INCH = 150
BOUND = Difference(share=0.003, most=0.2)
"""Of paper and screen beside each other, at 300 dots to the inch."""

KEPT_BOUND = Difference(share=0.0005, most=0.08)
"""Of each beside the picture of it that is kept, whose colours are fewer, at 150."""


def apart(farm):
    """Without trees that would touch, as of two that look alike either may lie on top."""
    near = cKDTree(farm.trees[["x", "y"]]).query_pairs(14.0, output_type="ndarray")
    keep = farm.trees.drop(index=farm.trees.index[np.unique(near[:, 1])])
    return farm.with_tables(trees=keep, measurements=farm.measurements[farm.measurements["tree"].isin(keep.index)])


def small_page(look="paper"):
    """A map of 100 mm by 62 mm at 1:4,000 with a few things beside it, on paper of 110 mm by 84 mm."""
    farm = apart(made_farm(8, 900))
    scene = build_scene(farm, ON, theme=theme(look))
    view = View(EAST + 560, NORTH + 540, 4.0, 100.0, 62.0)
    frame = (5.0, 5.0, 100.0, 62.0)
    ink = TextStyle("#222222", 3.0, "semibold")
    items = (
        Text(5.0, 73.0, "Pipit Downs, mānuka and tōtara 0123456789", ink),
        Text(105.0, 78.0, "1:4 000", replace(ink, weight="regular", italic=True), "right"),
        Shape(((5.0, 76.0), (45.0, 76.0), (45.0, 77.5), (5.0, 77.5)), closed=True, line="#222222", fill="#FFFFFF"),
        Shape(((5.0, 76.0), (25.0, 76.0), (25.0, 77.5), (5.0, 77.5)), closed=True, fill="#222222"),
        Disc(52.0, 76.5, 4.0, "#222222", 0.3, "#E69F00"),
        *(Sampled(58.0 + 9 * place, 74.5, 8.0, 4.0, entry.sample) for place, entry in enumerate(scene.key[:4])),
    )
    edge = Shape(((5.0, 5.0), (105.0, 5.0), (105.0, 67.0), (5.0, 67.0)), closed=True, line="#222222", line_mm=0.4)
    maps = (MapOnPage(frame, view, scene, (edge,)),)
    page = Page(Paper("small", 110.0, 84.0), theme(look), maps, (Box("all", 5, 70, 100, 10, items),))
    return Document("Small page", "One of everything", farm, (page,))


def drawn(document, dots_per_inch, folder):
    """What is on paper and on screen."""
    write_document(document, folder / "page.pdf")
    return paper_picture(folder / "page.pdf", dots_per_inch), dots_of(page_picture(document.pages[0], dots_per_inch))


def kept(look, side):
    return REFERENCES / f"{look.replace(' ', '_')}_{side}.png"


def is_within(found, bound):
    return found.share <= bound.share and found.most <= bound.most


@pytest.fixture(scope="module", params=LOOKS.values())
def page(request):
    return request.param, small_page(request.param)


def test_paper_and_screen_are_the_same_drawing(page, tmp_path):
    paper, screen = drawn(page[1], DOTS_PER_INCH, tmp_path)
    found = difference(paper, screen, DOTS_PER_INCH / 25.4)
    assert is_within(found, BOUND), found


def test_the_drawing_is_what_it_was(page, tmp_path):
    look, document = page
    for side, picture in zip(SIDES, drawn(document, KEPT_DOTS_PER_INCH, tmp_path), strict=True):
        found = difference(picture, dots_of(QImage(str(kept(look, side)))), KEPT_DOTS_PER_INCH / 25.4)
        assert is_within(found, KEPT_BOUND), (side, found)


def with_layers(document, change):
    """The document with each layer of its map as ``change`` gives it; None takes it away."""
    (page,) = document.pages
    (one,) = page.maps
    layers = tuple(made for made in map(change, one.scene.layers) if made is not None)
    maps = (replace(one, scene=replace(one.scene, layers=layers)),)
    return replace(document, pages=(replace(page, maps=maps),))


def a_tree_moved(document):
    """One tree in the middle of the map half a millimetre east of its place."""
    view = document.pages[0].maps[0].view

    def change(layer):
        if not isinstance(layer, TreeLayer):
            return layer
        x = layer.x.copy()
        middle = np.argmin(np.hypot(layer.x - view.centre_x, layer.y - view.centre_y))
        x[middle] += 0.5 * view.metres_per_mm
        return replace(layer, x=x)

    return with_layers(document, change)


def no_fence(document):
    return with_layers(document, lambda layer: None if layer.name == "fences" else layer)


def another_colour(document):
    """Blocks a little greener."""

    def change(layer):
        is_block = isinstance(layer, AreaLayer) and layer.name == "blocks" and layer.style.fill
        return replace(layer, style=replace(layer.style, fill="#B9DDA6")) if is_block else layer

    return with_layers(document, change)


def another_word(document):
    (page,) = document.pages
    text, *rest = page.boxes[0].items
    box = replace(page.boxes[0], items=(replace(text, text=text.text.replace("0123", "0128")), *rest))
    return replace(document, pages=(replace(page, boxes=(box,)),))


@pytest.fixture(scope="module")
def unchanged():
    document = small_page("paper")
    return document, dots_of(page_picture(document.pages[0], DOTS_PER_INCH))


@pytest.mark.parametrize("change", [a_tree_moved, no_fence, another_colour, another_word])
def test_a_change_is_seen(change, unchanged, tmp_path):
    document, screen = unchanged
    changed = change(document)
    paper, _ = drawn(changed, DOTS_PER_INCH, tmp_path)
    assert not is_within(difference(paper, screen, DOTS_PER_INCH / 25.4), BOUND)
    for side, picture in zip(SIDES, drawn(changed, KEPT_DOTS_PER_INCH, tmp_path), strict=True):
        reference = dots_of(QImage(str(kept("paper", side))))
        assert not is_within(difference(picture, reference, KEPT_DOTS_PER_INCH / 25.4), KEPT_BOUND)


def keep() -> None:
    """Make the pictures that are kept, in few colours."""
    REFERENCES.mkdir(exist_ok=True)
    for look in LOOKS.values():
        with tempfile.TemporaryDirectory() as folder:
            pictures = drawn(small_page(look), KEPT_DOTS_PER_INCH, Path(folder))
        for side, picture in zip(SIDES, pictures, strict=True):
            dots = np.ascontiguousarray(np.clip((picture + 4) // 8 * 8, 0, 255).astype(np.uint8))
            high, wide, _ = dots.shape
            image = QImage(dots.data, wide, high, 3 * wide, QImage.Format.Format_RGB888)
            image.save(str(kept(look, side)), quality=1)


if __name__ == "__main__":
    keep()
