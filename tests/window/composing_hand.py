"""Moving elements of a page by the mouse, and a place to compose without all of the window round it."""

from __future__ import annotations

import time
from pathlib import Path

from PySide6.QtCore import QEvent, QEventLoop, QPointF, Qt, QTimer
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from farmmap.window.farm_days import farm_days
from farmmap.window.farm_files import FarmFiles
from farmmap.window.jobs import Jobs
from farmmap.window.printing.dialog import PrintDialog
from farmmap.window.session import Session

WAIT_MS = 30_000
LEFT = Qt.MouseButton.LeftButton
NO_KEYS = Qt.KeyboardModifier.NoModifier


class Composing:
    """A sheet that is composed, of a farm that may only be looked at, without all of the window round it.

    Parameters
    ----------
    farm : Farm
        The farm.
    folder : Path
        Where its file would be.
    """

    def __init__(self, farm, folder: Path) -> None:
        self.session, self.jobs = Session(), Jobs()
        self.session.open_farm(farm, folder / "farm.gpkg", farm_days(farm), "This farm may only be looked at here.")
        self.files = FarmFiles(self.session, self.jobs)
        self.dialog = PrintDialog(self.session, self.jobs, self.files)
        self.dialog.resize(1240, 700)
        self.dialog.show()
        self.wait()

    def wait(self) -> None:
        """Wait until the page is that of the choices."""
        end = time.monotonic() + WAIT_MS / 1000
        while self.jobs.is_busy() or not self.dialog.is_up_to_date:
            assert time.monotonic() < end, self.dialog.problem.text()
            let_work_go_on()

    def begin_anew(self) -> None:
        """Go back to the sheet as farmmap proposes it."""
        self.dialog.take_up(0)
        self.dialog.view.pick("")
        self.dialog.view.whole_page()
        self.wait()
        self.dialog.problem.setText("")

    def close(self) -> None:
        """Leave no thread behind."""
        self.dialog.reject()
        self.jobs.close()
        self.dialog.deleteLater()


def let_work_go_on() -> None:
    """Run the window's events for a moment; unlike `QTest.qWait`, this lets Python's other threads run meanwhile."""
    loop = QEventLoop()
    QTimer.singleShot(5, loop.quit)
    loop.exec()


def wait_set(qtbot, jobs, dialog) -> None:
    """Wait until the page is that of the choices."""
    qtbot.waitUntil(lambda: dialog.is_up_to_date and not jobs.is_busy(), timeout=WAIT_MS)


def element(dialog, name):
    """Return an element as it was composed."""
    return next(one for one in dialog.view.elements if one.name == name)


def place(dialog, name):
    """Return where an element is, or was put."""
    return dialog.view.place_of(element(dialog, name))


def at(dialog, x, y):
    """Return where a point of the page is seen."""
    return dialog.view.on_screen().point(x, y).toPoint()


def middle(dialog, name):
    """Return the middle of an element. [mm]."""
    where = place(dialog, name)
    return where.x + where.width / 2, where.y + where.height / 2


def drag(dialog, start, step, *, let_go=True, keys=NO_KEYS):
    """Drag from a point of the page by so many millimetres."""
    viewport = dialog.view.viewport()
    first, last = at(dialog, *start), at(dialog, start[0] + step[0], start[1] + step[1])
    QTest.mousePress(viewport, LEFT, keys, first)
    for point in (((QPointF(first) + QPointF(last)) / 2).toPoint(), last):
        _move(viewport, point, keys)
    if let_go:
        QTest.mouseRelease(viewport, LEFT, keys, last)


def _move(viewport, point, keys):
    """Move the pointer with the button down: the test's own moves carry neither button nor keys."""
    where, far = QPointF(point), QPointF(viewport.mapToGlobal(point))
    event = QMouseEvent(QEvent.Type.MouseMove, where, far, Qt.MouseButton.NoButton, LEFT, keys)
    QApplication.sendEvent(viewport, event)
