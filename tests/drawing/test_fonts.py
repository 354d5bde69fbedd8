import importlib.util

import numpy as np
import pytest
from PySide6.QtGui import QFontInfo, QFontMetricsF, QImage, QPainter, QRawFont

from farmmap.drawing import fonts
from farmmap.drawing.fonts import LINE_HEIGHT, family, font, reach, text_size_mm, text_width_mm, written
from farmmap.drawing.label_painter import paint_label
from farmmap.drawing.missing_letters import missing_letters, missing_words
from farmmap.drawing.stamps import pixels_of
from farmmap.scene.labels import Label
from farmmap.scene.styles import TextStyle

STYLE = TextStyle("#000000", 3.0)
NAMES = (
    "Sedge Creek",
    "gypsy (j)",
    "1234",
    "Āhua Ōtū Ē",
    "Ế Ǻ Ṩ",
    "Ελιά",
    "Берёза Йй",
    "مزرعة الوادي",
    "שדה",
    "North Ế\nterrace gq",
    "竹林",
    "🌲 Hill",
)


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
    one, two = text_size_mm("North Terrace", STYLE), text_size_mm("North Terrace\nE", STYLE)
    assert one[0] == two[0]
    assert two[1] - one[1] == pytest.approx(LINE_HEIGHT * STYLE.size_mm)


def ink(text, style, dots_per_mm=40.0):
    """Rectangle of the dots that a label alone leaves, from the label's middle. [mm]."""
    width, height = text_size_mm(text, style)
    wide, high = (int((side + 6) * dots_per_mm) for side in (width, height))
    image = QImage(wide, high, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    painter = QPainter(image)
    middle = wide / 2 / dots_per_mm, high / 2 / dots_per_mm
    paint_label(painter, Label(text, style, *middle, width, height), dots_per_mm)
    painter.end()
    rows, columns = np.nonzero(pixels_of(image).reshape(high, wide))
    box = np.array([columns.min(), rows.min(), columns.max() + 1, rows.max() + 1]) / dots_per_mm
    return box - (*middle, *middle)


@pytest.mark.parametrize("italic", [False, True])
@pytest.mark.parametrize("weight", ["regular", "semibold", "bold"])
@pytest.mark.parametrize("text", NAMES)
def test_all_ink_of_a_name_lies_within_its_size(text, weight, italic):
    style = TextStyle("#000000", 3.0, weight, italic)
    width, height = text_size_mm(text, style)
    left, top, right, bottom = ink(text, style)
    beyond = 0.12  # [mm] a slanted letter leans out at the end, and the edge of a letter is half a dot wide
    assert top >= -height / 2 - beyond
    assert bottom <= height / 2 + beyond
    assert left >= -width / 2 - 3 * beyond
    assert right <= width / 2 + 3 * beyond


def test_a_name_in_letters_without_italics_is_written_upright_rather_than_not():
    water = TextStyle("#000000", 3.0, italic=True)
    assert font(water, 20.0, "Sedge Creek").italic()
    if not missing_letters(["مزرعة"]):
        metrics = QFontMetricsF(font(water, 20.0, "مزرعة"))
        assert all(metrics.inFontUcs4(ord(letter)) for letter in "مزرعة")


@pytest.fixture
def latin_only(monkeypatch):
    """A computer that has our typeface and no other."""
    raw = QRawFont.fromFont(font(STYLE, 20.0))
    monkeypatch.setattr(fonts, "_has", lambda one, _weight, *, italic: raw.supportsCharacter(ord(one)))
    for remembered in (fonts.written, fonts.text_width_mm, fonts.text_size_mm, fonts.reach, fonts._face):
        remembered.cache_clear()
    yield
    for remembered in (fonts.written, fonts.text_width_mm, fonts.text_size_mm, fonts.reach, fonts._face):
        remembered.cache_clear()


def test_letters_that_no_typeface_has_are_named_by_their_kind(latin_only):
    texts = ["North Terrace", "Ōtū, Ελιά, Берёза", "竹林 Block", "مزرعة", "हिन्दी", "👨‍🌾 Hill ☃", "한"]
    missing = missing_letters(texts)
    assert missing["Chinese"] == "竹林"
    assert set(missing) == {"Chinese", "Arabic", "Hindi", "picture signs (emoji)", "signs", "Korean"}
    assert missing["picture signs (emoji)"] == "👨‍🌾"


def test_what_cannot_be_written_is_said_with_what_to_do(latin_only):
    assert missing_words(["North Terrace", "Ōtū"]) == ""
    said = missing_words(["North Terrace", "竹林 Block", "北"])
    for wanted in ("no typeface with Chinese letters", "“竹林 Block”", "“北”", "install one", "Noto Sans CJK", "a ?"):
        assert wanted in said
    assert "North Terrace" not in said
    assert "and 7 more" in missing_words([f"竹 {number}" for number in range(10)])
    assert len(missing_words(["竹" * 200])) < 300


def test_a_question_mark_stands_for_each_letter_that_is_missing(latin_only):
    assert written("竹林 Block, Ōtū") == "?? Block, Ōtū"
    assert written("👨‍🌾 Hill 👍🏽 ☀️ é") == "? Hill ? ? é"
    assert text_width_mm("竹林", STYLE) == pytest.approx(text_width_mm("??", STYLE))


def test_marks_above_and_below_letters_are_counted_in_the_height():
    assert reach("Ế", STYLE)[0] > reach("E", STYLE)[0]
    assert reach("12", STYLE)[1] < reach("Ng", STYLE)[1]
