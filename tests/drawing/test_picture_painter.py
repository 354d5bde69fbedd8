"""Photographs are painted the right way up, no finer than the page shows, and never bring a page down."""

import pytest
from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QImage, QImageReader, QPageSize, QPainter, QPdfWriter, Qt

from farmmap.drawing.page_painter import paint_items
from farmmap.drawing.picture_painter import _image, _stamp
from farmmap.scene.page_items import Picture
from farmmap.scene.styles import theme
from tests.photo_files import BLUE, GREEN, RED, write_photo


def painted(path, width=80.0, height=60.0, look="paper", dots_per_mm=2.0):
    page = QImage(round(100 * dots_per_mm), round(100 * dots_per_mm), QImage.Format.Format_RGB32)
    page.fill(Qt.GlobalColor.white)
    painter = QPainter(page)
    paint_items(painter, [Picture(10.0, 10.0, width, height, str(path))], theme(look), dots_per_mm)
    painter.end()
    return page


def colour_at(page, x_mm, y_mm, dots_per_mm=2.0):
    dot = page.pixelColor(round(x_mm * dots_per_mm), round(y_mm * dots_per_mm))
    return dot.red(), dot.green(), dot.blue()


def near(found, wanted):
    return max(abs(a - b) for a, b in zip(found, wanted, strict=True)) < 30


@pytest.mark.parametrize("driver", ["JPEG", "PNG"])
def test_a_photograph_lies_in_its_frame(qapp, tmp_path, driver):
    page = painted(write_photo(tmp_path / f"a.{driver.lower()}", driver=driver))
    assert near(colour_at(page, 15, 15), RED)
    assert near(colour_at(page, 85, 15), BLUE)
    assert near(colour_at(page, 50, 68), GREEN)
    assert colour_at(page, 8, 40) == colour_at(page, 92, 40) == colour_at(page, 50, 72) == (255, 255, 255)


def test_one_taken_on_its_side_is_turned_upright(qapp, tmp_path):
    """Orientation 6: the camera was turned to the right, so the left of the file is the top of the picture."""
    page = painted(write_photo(tmp_path / "a.jpg", orientation=6), 45.0, 60.0)
    assert near(colour_at(page, 45, 15), RED)
    assert near(colour_at(page, 45, 65), BLUE)
    assert near(colour_at(page, 13, 40), GREEN)


def test_one_whose_file_changed_its_shape_is_not_stretched(qapp, tmp_path):
    page = painted(write_photo(tmp_path / "a.jpg", 80, 20), 80.0, 60.0)
    assert colour_at(page, 50, 15) == (255, 255, 255)
    assert near(colour_at(page, 15, 34), RED)


def test_it_is_read_no_finer_than_is_shown(qapp, tmp_path):
    path = str(write_photo(tmp_path / "a.jpg", 1600, 1200))
    assert _image(path, _stamp(path), (160, 120), grey=False).width() == 160
    assert _image(path, _stamp(path), (9000, 9000), grey=False).width() == 1600  # and never blown up
    turned = str(write_photo(tmp_path / "b.jpg", 1600, 1200, orientation=8))
    small = _image(turned, _stamp(turned), (120, 160), grey=False)
    assert (small.width(), small.height()) == (120, 160)


def test_a_grey_look_has_grey_photographs(qapp, tmp_path):
    red, green, blue = colour_at(painted(write_photo(tmp_path / "a.jpg"), look="paper grey"), 15, 15)
    assert red == green == blue


def test_what_cannot_be_read_leaves_a_frame(qapp, tmp_path):
    (tmp_path / "bad.jpg").write_bytes(b"no photograph")
    for path in (tmp_path / "gone.jpg", tmp_path / "bad.jpg", tmp_path):
        page = painted(path)
        assert colour_at(page, 10, 30) != (255, 255, 255)
        assert colour_at(page, 15, 15) == (255, 255, 255)


def test_a_pdf_keeps_it_as_jpeg_of_300_dots_an_inch(qapp, tmp_path):
    path = write_photo(tmp_path / "a.jpg", 3000, 2250)
    writer = QPdfWriter(str(tmp_path / "page.pdf"))
    writer.setPageSize(QPageSize(QSizeF(100, 100), QPageSize.Unit.Millimeter))
    writer.setPageMargins(QMarginsF(0, 0, 0, 0))
    writer.setResolution(1200)
    painter = QPainter(writer)
    paint_items(painter, [Picture(10.0, 10.0, 50.8, 38.1, str(path))], theme("paper"), 1200 / 25.4)
    painter.end()
    written = (tmp_path / "page.pdf").read_bytes()
    assert b"/DCTDecode" in written
    assert b"/Width 600" in written
    assert b"/Height 450" in written
    assert len(written) < 60_000
    assert QImageReader(str(path)).size().width() == 3000
