"""Small pictures of photographs are as fine as the screen."""

import pytest
from PySide6.QtGui import QColor, QImage

from farmmap.window.photo_thumbs import THUMB, icon_of, read_thumbs
from tests.photo_files import write_photo


@pytest.mark.parametrize("dots", [1.0, 1.5, 2.0])
def test_a_picture_has_a_dot_for_each_of_the_screen(qapp, tmp_path, dots):
    (image,) = read_thumbs([write_photo(tmp_path / "a.jpg", 1600, 1200)], dots)
    assert image.width() == round(THUMB.width() * dots)
    pixmap = icon_of(image, QColor("black"), dots).pixmap(THUMB, dots)
    assert pixmap.size() == THUMB * dots
    shown = pixmap.toImage()
    left, right = (shown.pixelColor(round(share * shown.width()), shown.height() // 3) for share in (0.05, 0.95))
    assert left.red() > 150 > left.blue()
    assert right.blue() > 150 > right.red()


def test_what_cannot_be_read_has_an_empty_frame(qapp, tmp_path):
    (tmp_path / "words.jpg").write_text("words")
    images = read_thumbs([tmp_path / "words.jpg", tmp_path / "gone.jpg"], 1.0)
    assert [image.isNull() for image in images] == [True, True]
    shown = icon_of(QImage(), QColor("black"), 2.0).pixmap(THUMB, 2.0).toImage()
    assert shown.pixelColor(2, shown.height() // 2).alpha() > 0
    assert shown.pixelColor(20, 20).alpha() == 0
