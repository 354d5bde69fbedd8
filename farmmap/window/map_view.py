"""The map on the screen: painted in the background, moved by mouse, trackpad and keyboard, picked from by a click."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QImage,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPaintEvent,
    QPalette,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QApplication, QSizePolicy, QWidget

from farmmap.window.jobs import Jobs
from farmmap.window.map_contents import Contents, MapContents
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.drawing.map_painter import MapPainter
    from farmmap.scene.view import Bounds, View

NEAR_MM = 2.5
"""How far from a thing a click may fall and still mean it. [mm of screen]"""
STEP_MM = 25.0
"""How far one press of an arrow key moves the map [mm]."""
ZOOM_STEP = 1.25
"""How much larger or smaller one press of + or one notch of the wheel makes the map."""
_NOTCH = 120.0
_MM_PER_INCH = 25.4


@dataclass(frozen=True)
class _Frame:
    """A painted picture and what it shows."""

    image: QImage
    view: View
    contents: Contents


class MapView(QWidget):
    """The map.

    The picture is painted by a thread of its own; while the map moves, the
    last picture is shifted and stretched until the next is there.
    """

    pointed = Signal(object)
    """Ground under the pointer, (x, y) in m, or None when it leaves."""
    picked = Signal(object)
    """What was clicked, a `Chosen` or None."""
    moved = Signal()
    """The view is another."""
    painted = Signal()
    """A new picture stands on the screen."""

    def __init__(self, session: Session, contents: MapContents, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._contents, self._jobs = session, contents, jobs
        self._frame: _Frame | None = None
        self.view: View | None = None
        self._pressed: QPoint | None = None
        self._last: QPoint | None = None
        self._dragging = False
        self._shown_path: object = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName("Map")
        self.setAccessibleDescription(
            "Arrow keys move the map, plus and minus change its size, Home shows the whole farm, Escape lets go."
        )
        self._kept_free_px = 0
        self._painter: MapPainter | None = None  # one frame at a time is painted, so they share what it remembers
        session.chosen_changed.connect(self._chosen_changed)

    # What is seen

    def dots_per_mm(self) -> float:
        """Dots of the window for one millimetre, before the screen's own magnification."""
        return self.logicalDpiX() / _MM_PER_INCH

    def whole_farm(self) -> None:
        """Show all of the farm."""
        now = self._contents.now
        if now is not None:
            self.show_ground(now.scene.bounds)

    def keep_free(self, left_px: int) -> None:
        """Leave room at the left, where the key lies, when the whole farm is shown [px]."""
        self._kept_free_px = left_px if left_px < self.width() / 2 else 0

    def show_ground(self, bounds: Bounds | None, margin_mm: float = 6.0) -> None:
        """Show a rectangle of ground."""
        from farmmap.scene.view import View

        wide, high = self._size_mm()
        free = self._kept_free_px / self.dots_per_mm()
        view = View.fitting(bounds, wide - free, high, margin_mm)
        self._set_view(view.panned(free / 2, 0).sized(wide, high))

    def go_to(self, x: float, y: float) -> None:
        """Bring a point of the ground to the middle unless it is well in sight [m]."""
        if self.view is None:
            return
        right, down = (float(value) for value in self.view.to_mm(x, y))
        wide, high = self._size_mm()
        if not (0.15 * wide < right < 0.85 * wide and 0.15 * high < down < 0.85 * high):
            self._set_view(self.view.centred(x, y))

    def follow_contents(self) -> None:
        """Show what the contents are now, all of it if it is another farm."""
        now = self._contents.now
        if now is None:
            self._frame = self.view = self._shown_path = None
            self.update()
            return
        if self._shown_path != self._session.path or self.view is None:
            self._shown_path = self._session.path
            self._frame = None
            self.whole_farm()
        self._ask_for_frame()

    def zoom(self, factor: float, about: QPointF | None = None) -> None:
        """Make the map larger (more than 1) or smaller about a point of the widget, else about what is chosen."""
        if self.view is not None:
            dots = self.dots_per_mm()
            still = self._chosen_mm() if about is None else (about.x() / dots, about.y() / dots)
            self._set_view(self.view.zoomed(factor, still))

    def pan(self, right_px: float, down_px: float) -> None:
        """Push the map right and down [px]."""
        if self.view is not None:
            dots = self.dots_per_mm()
            self._set_view(self.view.panned(right_px / dots, down_px / dots))

    def ground_at(self, place: QPointF) -> tuple[float, float] | None:
        """Return the ground under a point of the widget [m]."""
        if self.view is None:
            return None
        dots = self.dots_per_mm()
        x, y = self.view.to_ground(place.x() / dots, place.y() / dots)
        return float(x), float(y)

    def place_of(self, x: float, y: float) -> QPointF:
        """Return where on the widget a point of the ground is [px]."""
        assert self.view is not None
        right, down = self.view.to_mm(x, y)
        return QPointF(float(right), float(down)) * self.dots_per_mm()

    @property
    def is_up_to_date(self) -> bool:
        """Whether the picture on the screen is the exact one for what is to be seen."""
        frame = self._frame
        return frame is not None and frame.view == self.view and frame.contents is self._contents.now

    def sizeHint(self) -> QSize:
        """Most of a small screen."""
        return QSize(800, 600)

    def minimumSizeHint(self) -> QSize:
        """Large enough to be of use."""
        return QSize(260, 220)

    # What happens

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom by a mouse's wheel, move by two fingers on a trackpad."""
        by_fingers = not event.pixelDelta().isNull() and event.phase() != Qt.ScrollPhase.NoScrollPhase
        if by_fingers and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.pan(event.pixelDelta().x(), event.pixelDelta().y())
        else:
            self.zoom(ZOOM_STEP ** (event.angleDelta().y() / _NOTCH), event.position())
        event.accept()

    def event(self, event: QEvent) -> bool:
        """Zoom by a pinch."""
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            self.zoom(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the map."""
        if event.button() == Qt.MouseButton.LeftButton:
            self._pressed = self._last = event.position().toPoint()
            self._dragging = False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag the map, and say what ground lies under the pointer."""
        place = event.position().toPoint()
        if self._pressed is not None and self._last is not None:
            far = (place - self._pressed).manhattanLength() >= QApplication.startDragDistance()
            if self._dragging or far:
                self._dragging = True
                self.setCursor(Qt.CursorShape.ClosedHandCursor)
                self.pan(place.x() - self._last.x(), place.y() - self._last.y())
                self._last = place
        self.pointed.emit(self.ground_at(event.position()))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go of the map; without a drag, pick what was clicked."""
        if event.button() != Qt.MouseButton.LeftButton or self._pressed is None:
            return
        if not self._dragging:
            self._pick(event.position())
        self._pressed = self._last = None
        self._dragging = False
        self.unsetCursor()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Come closer."""
        self.zoom(2.0, event.position())

    def leaveEvent(self, event: QEvent) -> None:
        """No ground lies under the pointer any more."""
        self.pointed.emit(None)
        super().leaveEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move by the keyboard."""
        step = STEP_MM * self.dots_per_mm()
        moves = {
            Qt.Key.Key_Left: (step, 0.0),
            Qt.Key.Key_Right: (-step, 0.0),
            Qt.Key.Key_Up: (0.0, step),
            Qt.Key.Key_Down: (0.0, -step),
        }
        key = Qt.Key(event.key())
        if key in moves:
            self.pan(*moves[key])
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom(ZOOM_STEP)
        elif key in (Qt.Key.Key_Minus, Qt.Key.Key_Underscore):
            self.zoom(1 / ZOOM_STEP)
        elif key == Qt.Key.Key_Home:
            self.whole_farm()
        elif key == Qt.Key.Key_Escape:
            self._session.choose(None)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._pick(QPointF(self.rect().center()))
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the middle where it is."""
        super().resizeEvent(event)
        if self.view is not None:
            self._set_view(self.view.sized(*self._size_mm()))

    def changeEvent(self, event: QEvent) -> None:
        """Paint afresh on a screen of another magnification."""
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self._ask_for_frame()
        super().changeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002 - the whole map is painted
        """Lay the last picture where it belongs now, and what is chosen over it."""
        painter = QPainter(self)
        paper = self.palette().color(QPalette.ColorRole.Base)
        frame = self._frame
        if frame is None or self.view is None:
            painter.fillRect(self.rect(), paper)
        else:
            if not self.is_up_to_date:
                painter.fillRect(self.rect(), QColor(frame.contents.scene.theme.outside))
                painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
            painter.drawImage(self._place_of_frame(frame), frame.image)
            self._paint_over(painter)
        if self.hasFocus():
            painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Accent), 2))
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
        painter.end()

    # How it is done

    def _paint_over(self, painter: QPainter) -> None:
        from farmmap.window.map_overlay import paint_chosen, paint_empty, paint_furniture

        now, view = self._contents.now, self.view
        if now is None or view is None:
            return
        paint_chosen(painter, now, self._session.chosen, view, self.dots_per_mm())
        paint_furniture(painter, now, view, self.dots_per_mm())
        if now.scene.bounds is None:
            paint_empty(painter, now)

    def _place_of_frame(self, frame: _Frame) -> QRectF:
        assert self.view is not None
        dots = self.dots_per_mm()
        larger = frame.view.metres_per_mm / self.view.metres_per_mm
        wide, high = frame.view.width_mm * dots * larger, frame.view.height_mm * dots * larger
        middle = self.place_of(frame.view.centre_x, frame.view.centre_y)
        return QRectF(middle.x() - wide / 2, middle.y() - high / 2, wide, high)

    def _size_mm(self) -> tuple[float, float]:
        dots = self.dots_per_mm()
        return max(self.width(), 1) / dots, max(self.height(), 1) / dots

    def _set_view(self, view: View) -> None:
        if view != self.view:
            self.view = view
            self._ask_for_frame()
            self.update()
            self.moved.emit()

    def _chosen_place(self) -> tuple[float, float] | None:
        """Return the middle of what is chosen, on the ground [m]."""
        from farmmap.window.map_overlay import middle_of

        now, chosen = self._contents.now, self._session.chosen
        return None if now is None or chosen is None else middle_of(now, chosen)

    def _chosen_mm(self) -> tuple[float, float] | None:
        """Return where what is chosen lies on the map, None if it is out of sight [mm]."""
        place = self._chosen_place()
        if place is None or self.view is None:
            return None
        right, down = (float(value) for value in self.view.to_mm(*place))
        wide, high = self._size_mm()
        return (right, down) if 0 <= right <= wide and 0 <= down <= high else None

    def _chosen_changed(self) -> None:
        place = self._chosen_place()
        if place is not None:
            self.go_to(*place)
        self.update()

    def _ask_for_frame(self) -> None:
        now, view = self._contents.now, self.view
        if now is None or view is None:
            return
        if self._painter is None:
            from farmmap.drawing.fonts import family
            from farmmap.drawing.map_painter import MapPainter

            family()  # typefaces are registered here, in the window's thread
            self._painter = MapPainter()
        map_painter = self._painter
        dots = self.dots_per_mm() * self.devicePixelRatioF()
        size = self.size() * self.devicePixelRatioF()

        self._jobs.start(
            "frame", lambda _progress: _Frame(_paint(map_painter, now, view, size, dots), view, now), self._take_frame
        )

    def _take_frame(self, frame: _Frame) -> None:
        if frame.contents.farm is self._session.farm:
            self._frame = frame
            self.update()
            self.painted.emit()

    def _pick(self, place: QPointF) -> None:
        from farmmap.scene.pick import everything_at

        now, view, ground = self._contents.now, self.view, self.ground_at(place)
        if now is None or view is None or ground is None or now.farm is not self._session.farm:
            return
        within_m = NEAR_MM * view.metres_per_mm
        found = everything_at(now.farm, now.standing, now.margins, *ground, within_m, now.pickable())
        if self._session.chosen in found:  # a second click takes what lies beneath
            found = found[found.index(self._session.chosen) + 1 :] + found
        self.picked.emit(found[0] if found else None)


def _paint(map_painter: MapPainter, contents: Contents, view: View, size: QSize, dots_per_mm: float) -> QImage:
    image = QImage(size, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(QColor(contents.scene.theme.outside))
    painter = QPainter(image)
    map_painter.paint(painter, contents.scene, view, dots_per_mm)
    painter.end()
    return image
