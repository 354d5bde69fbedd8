"""Pages are written and printed from the place where they are composed, at their exact size."""

import pdfplumber
import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QImage, QPageSize
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from farmmap.progress import SILENT
from farmmap.window.printing.handing_on import AT_FULL_SIZE, make_ready, print_pages
from tests.conftest import small_farm
from tests.window.composing_hand import LEFT, Composing

POINT_MM = 25.4 / 72


@pytest.fixture(scope="module")
def of_module(qapp, tmp_path_factory):
    """Return the place where the small farm's sheet is composed; one for all tests, as it takes a while to make."""
    made = Composing(small_farm(), tmp_path_factory.mktemp("farm"))
    yield made
    made.close()


@pytest.fixture
def composing(qtbot, of_module):
    """Return the place where a new sheet is composed."""
    of_module.begin_anew()
    return of_module


def choose(box, text):
    box.setCurrentText(text)
    box.activated.emit(box.currentIndex())


def test_paper_way_and_scale_are_chosen_and_the_page_is_written(qtbot, composing, tmp_path):
    dialog, form = composing.dialog, composing.dialog.form
    choose(form.paper, "A3")
    choose(form.way, "Upright")
    form.scale.setEditText("1:2 000")
    composing.wait()
    assert dialog.told.text().startswith("A3 upright, 1:2000")
    dialog.write(tmp_path / "page.pdf")
    assert not dialog.write_button.isEnabled()
    qtbot.waitUntil(lambda: "page.pdf" in dialog.told.text(), timeout=30_000)
    assert dialog.write_button.isEnabled()
    with pdfplumber.open(tmp_path / "page.pdf") as pdf:
        page = pdf.pages[0]
        assert (page.width * POINT_MM, page.height * POINT_MM) == pytest.approx((297, 420), abs=0.1)
    choose(form.paper, "A4")
    composing.wait()
    dialog.write(tmp_path / "page.png")
    qtbot.waitUntil(lambda: "page.png" in dialog.told.text(), timeout=30_000)
    image = QImage(str(tmp_path / "page.png"))
    assert image.height() > image.width()
    dialog.write(tmp_path / "page.svg")
    qtbot.waitUntil(lambda: "page.svg" in dialog.told.text(), timeout=30_000)
    assert b"<svg" in (tmp_path / "page.svg").read_bytes()[:500]


def test_a_series_is_turned_over_page_by_page_and_some_of_it_printed(qtbot, composing, tmp_path):
    dialog, form = composing.dialog, composing.dialog.form
    assert form.beside.isVisible()
    form.what.setCurrentIndex(form.what.findData("blocks"))
    form.what.activated.emit(form.what.currentIndex())
    composing.wait()
    many = len(dialog._set.document.pages)
    assert dialog.bar.number_words.text() == f"Page 1 of {many}"
    assert not form.beside.isVisible()
    first = dialog.view.image
    dialog.view.setFocus()
    QTest.keyClick(dialog.view, Qt.Key.Key_PageDown)
    qtbot.waitUntil(lambda: dialog._set.number == 1, timeout=30_000)
    assert dialog.view.image != first
    assert not dialog.bar.on_button.isEnabled() or many > 2
    assert not dialog.view.may_arrange
    QTest.mouseClick(dialog.bar.back_button, LEFT)
    qtbot.waitUntil(lambda: dialog._set.number == 0, timeout=30_000)
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "some.pdf"))
    make_ready(printer, dialog._set.document)
    printer.setFromTo(2, many)
    assert print_pages(dialog._set.document, printer, SILENT) == many - 1
    with pdfplumber.open(tmp_path / "some.pdf") as pdf:
        assert len(pdf.pages) == many - 1


def test_a_scale_that_is_none_is_told_and_nothing_is_written(composing, tmp_path):
    dialog = composing.dialog
    dialog.form.scale.setEditText("large")
    assert "'large' is not a scale" in dialog.problem.text()
    dialog.write(tmp_path / "never.pdf")
    QTest.mouseClick(dialog.print_button, LEFT)
    assert not dialog.findChildren(QPrintDialog)
    assert not (tmp_path / "never.pdf").exists()
    dialog.form.scale.setEditText("1:5000")
    assert dialog.problem.text() == ""
    composing.wait()


def test_a_file_is_asked_for_under_the_title(qtbot, composing, tmp_path):
    dialog = composing.dialog
    qtbot.keyClicks(dialog.form.title, "Sedge / lower: 2")
    composing.wait()
    QTest.mouseClick(dialog.write_button, LEFT)
    (asked,) = dialog.findChildren(QFileDialog)
    assert asked.selectedFiles()[0].endswith("Sedge - lower- 2.pdf")
    asked.filterSelected.emit("Picture (*.png)")
    assert asked.defaultSuffix() == "png"
    asked.reject()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def test_the_page_is_printed_at_its_exact_size(qtbot, composing, tmp_path):
    dialog, form = composing.dialog, composing.dialog.form
    choose(form.way, "Lying")
    form.scale.setEditText("1:5000")
    composing.wait()
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    make_ready(printer, dialog._set.document)
    dialog.print_on(printer)
    qtbot.waitUntil(lambda: "Sent to the printer: 1 page." in dialog.told.text(), timeout=30_000)
    assert AT_FULL_SIZE in dialog.told.text()
    dialog.write(tmp_path / "written.pdf")
    qtbot.waitUntil(lambda: "written.pdf" in dialog.told.text(), timeout=30_000)
    with pdfplumber.open(tmp_path / "printed.pdf") as printed, pdfplumber.open(tmp_path / "written.pdf") as written:
        one, other = printed.pages[0], written.pages[0]
        assert (one.width * POINT_MM, one.height * POINT_MM) == pytest.approx((297, 210), abs=0.4)
        firsts = [{text[:12]: (x, y) for text, x, y in _lines(page)} for page in (one, other)]
        both = set(firsts[0]) & set(firsts[1])
        assert len(both) > 20
        for text in both:
            assert firsts[0][text] == pytest.approx(firsts[1][text], abs=0.2), (
                f"{text} begins where it does in the file"
            )


def _lines(page):
    """Return the text of each line, and where it begins from the upper left corner in millimetres."""
    words = page.extract_words(keep_blank_chars=True, use_text_flow=True)
    return [(word["text"], word["x0"] * POINT_MM, word["bottom"] * POINT_MM) for word in words]


def test_a_printer_set_to_other_paper_is_refused(qtbot, composing, tmp_path):
    dialog = composing.dialog
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    make_ready(printer, dialog._set.document)
    printer.setPageSize(QPageSize(QPageSize.PageSizeId.A5))
    dialog.print_on(printer)
    qtbot.waitUntil(lambda: "The printer is set to A5" in dialog.problem.text(), timeout=30_000)
    assert "choose A4" in dialog.problem.text()
    assert dialog.print_button.isEnabled()


def test_the_printer_is_asked_for_with_the_size_of_the_page(composing):
    dialog = composing.dialog
    choose(dialog.form.paper, "A3")
    choose(dialog.form.way, "Lying")
    QTest.mouseClick(dialog.print_button, LEFT)
    assert "still being set" in dialog.told.text(), "not the page before"
    composing.wait()
    QTest.mouseClick(dialog.print_button, LEFT)
    (asked,) = dialog.findChildren(QPrintDialog)
    layout = asked.printer().pageLayout()
    assert layout.pageSize().id() == QPageSize.PageSizeId.A3
    assert asked.printer().fullPage()
    assert dialog.told.text() == AT_FULL_SIZE
    asked.reject()


def test_what_takes_long_is_stopped_and_nothing_is_left(qtbot, composing):
    dialog = composing.dialog

    def endless(progress):
        while True:
            progress.step(1, 2, "drawing the page")

    dialog.handing.run(endless, str, "Writing the file")
    assert not dialog.print_button.isEnabled()
    qtbot.waitUntil(dialog.busy_strip.isVisible, timeout=30_000)
    QTest.mouseClick(dialog.busy_strip.stop_button, LEFT)
    qtbot.waitUntil(lambda: "Stopped" in dialog.told.text(), timeout=30_000)
    assert dialog.print_button.isEnabled()


def test_something_that_is_not_there_is_told_and_the_page_before_is_pale(qtbot, composing):
    dialog, form = composing.dialog, composing.dialog.form
    form.what.setCurrentIndex(form.what.findData("survival"))
    form.what.activated.emit(form.what.currentIndex())
    qtbot.waitUntil(lambda: "No planting plan is accepted" in dialog.problem.text(), timeout=30_000)
    assert dialog.view.is_stale
    painted = []
    dialog.maker.painted.connect(painted.append)
    dialog.view.zoom(3.0)
    qtbot.waitUntil(lambda: bool(painted), timeout=30_000)
    assert dialog.view.is_stale, "it is sharper, and still not what was asked for"
    dialog.view.whole_page()
    pale = dialog.view.grab().toImage()
    dialog.undo()
    composing.wait()
    assert dialog.problem.text() == ""
    assert not dialog.view.is_stale
    middle = dialog.view.rect().center()
    shades = [
        {shot.pixelColor(x, middle.y()).lightness() for x in range(shot.width())}
        for shot in (pale, dialog.view.grab().toImage())
    ]
    assert min(shades[0]) > min(shades[1])
