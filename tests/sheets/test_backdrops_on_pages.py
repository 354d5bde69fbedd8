"""Backdrops on printed pages."""

import datetime as dt

import pytest

from farmmap.sheets.page import SheetOptions
from farmmap.sheets.sheet import compose
from farmmap.sheets.write import page_picture, write_sheet
from tests.scene.backdrop_farm import backdrop_farm, with_backdrops

ON = dt.date(2021, 1, 1)


@pytest.fixture
def hilly(tmp_path):
    return backdrop_farm(tmp_path)


def test_the_page_shows_the_picture_and_says_what_lies_under_the_map(hilly, tmp_path):
    sheet = compose(hilly, ON, SheetOptions("A4", folder=tmp_path))
    said = " ".join(
        sheet.plan.boxes and [item.text for box in sheet.plan.boxes for item in box.items if hasattr(item, "text")]
    )
    assert "Contours every 5 m" in said
    assert "From above" in said
    image = page_picture(sheet.pages[0], 100)
    plain = page_picture(compose(hilly, ON, SheetOptions("A4")).pages[0], 100)
    left, top, wide, high = sheet.plan.frame
    place = round((left + wide / 2) * 100 / 25.4), round((top + high * 0.02) * 100 / 25.4)
    assert image.pixelColor(*place) != plain.pixelColor(*place)
    for name in ("a.pdf", "a.png"):
        write_sheet(sheet, tmp_path / name)
    assert b"/Subtype /Image" in (tmp_path / "a.pdf").read_bytes()


def test_a_missing_backdrop_is_told_with_the_page(hilly, tmp_path):
    (tmp_path / "above.tif").unlink()
    sheet = compose(hilly, ON, SheetOptions("A4", folder=tmp_path))
    assert any("From above is not on the page: above.tif is not in" in message for message in sheet.messages)
    hidden = compose(hilly, ON, SheetOptions("A4", folder=tmp_path, hidden=frozenset({"backdrops"})))
    assert not any("From above" in message for message in hidden.messages)


def test_the_key_of_a_page_has_no_more_lines_for_them(hilly, tmp_path):
    bare = with_backdrops(hilly, name=["x"], path=["x.tif"], kind=["picture"], shown=["no"])
    with_, without = (compose(farm, ON, SheetOptions("A3", folder=tmp_path)).plan for farm in (hilly, bare))
    assert with_.scale == without.scale
    assert with_.cut == without.cut
