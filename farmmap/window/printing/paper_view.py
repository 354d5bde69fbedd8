"""A page on the screen: as large as there is room, or larger, by wheel and keys."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QPointF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QAbstractScrollArea, QSizePolicy, QWidget

from farmmap.scene.page_snapping import Place
from farmmap.sheets.page import Page
from farmmap.window.printing.page_paint import OnScreen
from farmmap.window.printing.seen import ROUND_PX, Seen

ZOOM_STEP = 1.25
SHARPER_AFTER_MS = 120
ARROW_PX = 40

_NOTCH = 120.0
PALE = QColor(255, 255, 255, 190)
ARROWS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


class PaperView(QAbstractScrollArea):
    """Shows the picture of one page."""

    turn_wanted = Signal(int)
    """The next page (1) or the one before (-1) is wanted."""
    sharper_wanted = Signal()
    """The page's picture has fewer dots than could be shown, or many more."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.page: Page | None = None
        self.image: QImage | None = None
        self.dots_per_mm = 1.0
        """Of the picture. [1/mm]"""
        self._zoom: float | None = None  # None: as large as there is room
        self._pressed: QPointF | None = None
        self.is_stale = False
        self._words = ""
        self.setAccessibleName("The page as it will be printed")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(SHARPER_AFTER_MS)
        self._later.timeout.connect(self._want_sharper)

    def sizeHint(self) -> QSize:
        """Large enough to see what is where."""
        return QSize(620, 560)

    def show_picture(self, page: Page, image: QImage) -> None:
        """Show a page by its picture."""
        self.page, self.image, self.is_stale = page, image, False
        self.dots_per_mm = image.width() / page.paper.width_mm
        self._fit_bars()
        self.viewport().update()

    def show_stale(self) -> None:
        """Show the page pale, as it is not the one that was asked for."""
        self.is_stale, self._words = True, ""
        self.viewport().update()

    def show_words(self, words: str) -> None:
        """Show words while there is no page yet."""
        self._words = words
        self.viewport().update()

    @property
    def has_map(self) -> bool:
        """Whether there is a map on the page."""
        return self.page is not None and bool(self.page.maps)

    @property
    def seen(self) -> Seen:
        """How large pages are shown."""
        room = self.maximumViewportSize()
        return Seen(room.width(), room.height(), self.devicePixelRatioF(), self._zoom)

    def zoom(self, times: float, at: QPointF | None = None) -> None:
        """Show the page larger or smaller, so that what lies under a place of the view stays there."""
        if self.page is None:
            return
        before = self.on_screen()
        middle = at or QPointF(self.viewport().width() / 2, self.viewport().height() / 2)
        x, y = before.to_mm(middle)
        self._zoom = self.seen.zoomed(self.page.paper, times)
        self._fit_bars()
        self.horizontalScrollBar().setValue(round(x * self._zoom + ROUND_PX - middle.x()))
        self.verticalScrollBar().setValue(round(y * self._zoom + ROUND_PX - middle.y()))
        self.viewport().update()

    def whole_page(self) -> None:
        """Show the whole page, as large as there is room."""
        self._zoom = None
        self._fit_bars()
        self.viewport().update()

    def pan(self, step: QPoint) -> None:
        """Move the page. [px]."""
        self.horizontalScrollBar().setValue(self.horizontalScrollBar().value() - step.x())
        self.verticalScrollBar().setValue(self.verticalScrollBar().value() - step.y())

    def on_screen(self) -> OnScreen:
        """Return where the page lies in the view."""
        if self.page is None:
            return OnScreen(0.0, 0.0, 1.0)
        scale = self.seen.scale(self.page.paper)
        room = self.viewport().size()
        wide, high = self.page.paper.width_mm * scale, self.page.paper.height_mm * scale
        across, down = self.horizontalScrollBar(), self.verticalScrollBar()
        left = ROUND_PX - across.value() if across.maximum() else (room.width() - wide) / 2
        top = ROUND_PX - down.value() if down.maximum() else (room.height() - high) / 2
        return OnScreen(left, top, scale)

    def _fit_bars(self) -> None:
        if self.page is None:
            return
        room, paper = self.viewport().size(), self.page.paper
        for bar, side, seen in (
            (self.horizontalScrollBar(), paper.width_mm, room.width()),
            (self.verticalScrollBar(), paper.height_mm, room.height()),
        ):
            needs = 0 if self._zoom is None else round(side * self._zoom) + 2 * ROUND_PX
            bar.setRange(0, max(needs - seen, 0))
            bar.setPageStep(seen)
            bar.setSingleStep(ARROW_PX)
        if self._could_be_sharper():
            self._later.start()

    def _could_be_sharper(self) -> bool:
        if self.page is None:
            return False
        return abs(self.seen.dots_per_mm(self.page.paper) / self.dots_per_mm - 1) > 0.02

    def _want_sharper(self) -> None:
        if self._could_be_sharper():
            self.sharper_wanted.emit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show the page as large as there is room now."""
        super().resizeEvent(event)
        self._fit_bars()

    def scrollContentsBy(self, dx: int, dy: int) -> None:  # noqa: ARG002 - all of it is painted anew
        """Show another part of the page."""
        self.viewport().update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002 - the whole view is painted
        """Paint the page, and what lies over it."""
        painter = QPainter(self.viewport())
        painter.fillRect(self.viewport().rect(), self.palette().color(QPalette.ColorRole.Midlight))
        if self.page is not None and self.image is not None:
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
            on = self.on_screen()
            paper = on.rect(Place(0, 0, self.page.paper.width_mm, self.page.paper.height_mm))
            painter.drawImage(paper, self.image)
            painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Dark), 1))
            painter.drawRect(paper)
            self.paint_over(painter, on)
            if self.is_stale:
                painter.fillRect(paper, PALE)
        elif self._words:
            painter.setPen(self.palette().color(QPalette.ColorRole.WindowText))
            painter.drawText(self.viewport().rect(), Qt.AlignmentFlag.AlignCenter, self._words)
        painter.end()

    def paint_over(self, painter: QPainter, on: OnScreen) -> None:
        """Paint what lies over the page; nothing here."""

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the page."""
        if event.button() in {Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton}:
            self._pressed = event.position()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Draw the page along."""
        if self._pressed is not None:
            self.pan((event.position() - self._pressed).toPoint())
            self._pressed = event.position()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: ARG002 - wherever it is
        """Let go of the page."""
        self._pressed = None

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom by a mouse's wheel, move by two fingers on a trackpad."""
        by_fingers = not event.pixelDelta().isNull() and event.phase() != Qt.ScrollPhase.NoScrollPhase
        if by_fingers and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.pan(event.pixelDelta())
        else:
            self.zoom(ZOOM_STEP ** (event.angleDelta().y() / _NOTCH), event.position())
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Zoom, move the page, and turn pages."""
        key = Qt.Key(event.key())
        if key in ARROWS:
            self.pan(QPoint(-ARROW_PX * ARROWS[key][0], -ARROW_PX * ARROWS[key][1]))
        elif key in {Qt.Key.Key_Plus, Qt.Key.Key_Equal}:
            self.zoom(ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self.zoom(1 / ZOOM_STEP)
        elif key in {Qt.Key.Key_Home, Qt.Key.Key_0}:
            self.whole_page()
        elif key in {Qt.Key.Key_PageDown, Qt.Key.Key_PageUp}:
            self.turn_wanted.emit(1 if key == Qt.Key.Key_PageDown else -1)
        else:
            event.ignore()
