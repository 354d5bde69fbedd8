"""Strange farms print with nothing clipped, lost or on top of another, or it is said which letters are missing."""

import datetime as dt
import unicodedata
from collections import Counter
from itertools import combinations, pairwise

import numpy as np
import pdfplumber
import pytest

from farmmap.drawing.fonts import text_width_mm, written
from farmmap.drawing.missing_letters import missing_letters
from farmmap.drawing.stamps import pixels_of
from farmmap.scene.page_items import Text
from farmmap.sheets.sheet import SheetOptions, compose
from farmmap.sheets.write import page_picture, write_sheet
from tests.sheets.strange_farms import LONG, SCRIPTS, STRANGE, UNBROKEN

ON = dt.date(2025, 1, 1)
MM = 25.4 / 72
CASES = [(name, ("A4", "A3")[place % 2], place // 2 % 2 == 0) for place, name in enumerate(STRANGE)]


@pytest.fixture(scope="module", params=CASES, ids=lambda one: f"{one[0]}-{one[1]}-{'lying' if one[2] else 'upright'}")
def printed(request, tmp_path_factory):
    """Name of the farm, its sheet, and the letters of the PDF with their places."""
    name, paper, landscape = request.param
    sheet = compose(STRANGE[name](), ON, SheetOptions(paper, landscape, printed_on=ON))
    path = tmp_path_factory.mktemp("sheet") / "map.pdf"
    write_sheet(sheet, path)
    with pdfplumber.open(path) as pdf:
        (page,) = pdf.pages
        return name, sheet, [char for char in page.chars if char["text"].strip()]


def plain(text):
    """Letters of a text in any order, as a PDF keeps Arabic in its shapes and from left to right."""
    return Counter(letter for letter in unicodedata.normalize("NFKC", text) if letter.strip() and letter != "\u0640")


def test_every_letter_lies_on_the_page(printed):
    _, sheet, chars = printed
    paper = sheet.plan.paper
    for char in chars:
        left, top, right, bottom = (char[side] * MM for side in ("x0", "top", "x1", "bottom"))
        assert left > 2, char["text"]
        assert right < paper.width_mm - 2, char["text"]
        assert top > 2, char["text"]
        assert bottom < paper.height_mm - 2, char["text"]


def test_every_text_lies_in_its_own_element(printed):
    _, sheet, _ = printed
    for box in sheet.plan.boxes:
        for item in box.items:
            if isinstance(item, Text) and item.upright:
                wide = text_width_mm(item.text, item.style)
                left = item.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * wide
                assert left >= box.x - 0.3, (box.name, item.text)
                assert left + wide <= box.x + box.width + 0.3, (box.name, item.text)
                assert box.y - 0.5 <= item.y <= box.y + box.height + 0.5, (box.name, item.text)


def test_elements_do_not_lie_on_each_other_nor_lines_of_text(printed):
    _, sheet, _ = printed
    for one, other in combinations(sheet.plan.boxes, 2):
        apart = (
            one.x + one.width <= other.x + 0.3
            or other.x + other.width <= one.x + 0.3
            or one.y + one.height <= other.y + 0.3
            or other.y + other.height <= one.y + 0.3
        )
        assert apart, (one.name, other.name)
    for box in sheet.plan.boxes:
        lines = sorted((item.y, item.x) for item in box.items if isinstance(item, Text) and item.upright)
        for (high, left), (low, other) in pairwise(lines):
            assert low - high < 0.05 or low - high > 1.4 or left != other, box.name


def test_all_that_the_page_says_is_in_the_file(printed):
    """Each letter of each text, as often as it is written; a letter that is missing only as a ?."""
    _, sheet, chars = printed
    said = sum((plain(written(item.text)) for box in sheet.plan.boxes for item in box.items
                if isinstance(item, Text)), Counter())  # fmt: skip
    there = sum((plain(char["text"]) for char in chars), Counter())
    lost = {letter: count - there[letter] for letter, count in said.items() if there[letter] < count}
    shaped = {letter for letter in lost if unicodedata.bidirectional(letter) in {"AL", "R", "NSM"}}
    assert not {letter for letter in lost if letter not in shaped}
    assert len(shaped) <= 4  # two letters that are written as one


def test_letters_without_a_typeface_are_told_and_no_others(printed):
    name, sheet, _ = printed
    title, names = SCRIPTS.get(name, (sheet.title, []))
    missing = missing_letters([title, *names])
    told = [message for message in sheet.messages if "no typeface" in message]
    assert bool(told) == bool(missing)
    for kind in missing:
        assert kind in told[0]


def test_no_ink_at_the_edge_of_the_paper(printed):
    _, sheet, _ = printed
    image = page_picture(sheet.pages[0], 40)
    dots = pixels_of(image).reshape(image.height(), image.width()).copy()
    white = dots[0, 0]
    rim = round(5 / 25.4 * 40)
    dots[rim:-rim, rim:-rim] = white
    assert (dots == white).all()


@pytest.mark.parametrize("name", ["200 letters", "200 letters, no space"])
@pytest.mark.parametrize("paper", ["A4", "A3"])
def test_very_long_names_are_shortened_where_they_have_no_room(name, paper):
    sheet = compose(STRANGE[name](), ON, SheetOptions(paper, printed_on=ON))
    long = LONG if name == "200 letters" else UNBROKEN
    by_box = {box.name: [item.text for item in box.items if isinstance(item, Text)] for box in sheet.plan.boxes}
    for box in ("title", "blocks", "margins"):
        cut = [text for text in by_box[box] if text.startswith(long[:6])]
        assert cut, box
        assert all(text.endswith("…") for text in cut), box


def test_a_strip_of_ten_kilometres_is_shown_whole_along_the_page():
    sheet = compose(STRANGE["10 km by 50 m"](), ON, SheetOptions("A3", printed_on=ON))
    view = sheet.plan.view
    assert sheet.plan.whole
    assert sheet.plan.paper.is_landscape
    assert 10_000 / view.metres_per_mm > 0.45 * view.width_mm
    assert np.isclose(sheet.plan.scale, view.scale_denominator)
    assert "mm across" in sheet.words
    assert "--series grid" in sheet.words


@pytest.mark.parametrize("landscape", [False, True])
def test_the_frame_of_a_strip_is_no_deeper_than_its_ground_needs(landscape):
    sheet = compose(STRANGE["10 km by 50 m"](), ON, SheetOptions("A3", landscape, printed_on=ON))
    _, top, wide, high = sheet.plan.frame
    assert high < 0.35 * wide
    below = [box for box in sheet.plan.boxes if box.y > top + high and box.name not in {"eastings", "longitudes"}]
    assert 0 < min(box.y for box in below) - top - high < 15
