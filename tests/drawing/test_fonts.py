import importlib.util

import pytest
from PySide6.QtGui import QFontInfo, QRawFont

from farmmap.drawing import fonts
from farmmap.drawing.fonts import LINE_HEIGHT, capital_height, family, font, text_size_mm, text_width_mm
from farmmap.scene.styles import TextStyle

STYLE = TextStyle("#000000", 3.0)


def test_the_typeface_comes_with_farmmap():
    assert family() == "Source Sans Pro"
    for weight, number in (("regular", 400), ("semibold", 600), ("bold", 700)):
        found = QFontInfo(font(TextStyle("#000000", 3.0, weight), 20.0))
        assert (found.family(), found.weight()) == ("Source Sans Pro", number)
    assert QFontInfo(font(TextStyle("#000000", 3.0, "regular", italic=True), 20.0)).italic()


def test_it_has_the_letters_that_maps_and_figures_need():
    raw = QRawFont.fromFont(font(STYLE, 20.0))
    assert [letter for letter in "āēīōūĀŌ°²³·×–…½√Σπ≥−\u202f" if not raw.supportsCharacter(ord(letter))] == []


def test_without_the_package_the_systems_typeface_is_taken(monkeypatch):
    real = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if "source_sans" in name else real(name))
    found = fonts.family.__wrapped__()
    assert found
    assert found != "Source Sans Pro"


def test_sizes_are_in_millimetres_whatever_the_device():
    assert font(STYLE, 10.0).pixelSize() == 30
    assert font(STYLE, 94.5).pixelSize() == 284
    assert text_width_mm("Sedge Creek", TextStyle("#000000", 6.0)) == pytest.approx(
        2 * text_width_mm("Sedge Creek", STYLE)
    )


def test_several_lines_are_as_wide_as_the_widest():
    one, two = text_size_mm("North Terrace", STYLE), text_size_mm("North Terrace\nA", STYLE)
    assert one[0] == two[0]
    assert two[1] - one[1] == pytest.approx(LINE_HEIGHT * STYLE.size_mm)
    assert 0.5 < capital_height(STYLE) < 0.8
