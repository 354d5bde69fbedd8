"""The map on the screen: painted in the background, moved by mouse, trackpad and keyboard, picked from by a click."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
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
from farmmap.window.map_contents import MapContents
from farmmap.window.map_frames import MapFrames
from farmmap.window.session import Session

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.scene.raster_layer import TileSource
    from farmmap.scene.view import Bounds, View
    from farmmap.window.map_tool import MapTool

NEAR_MM = 2.5
"""How far from a thing a click may fall and still mean it. [mm of screen]"""
STEP_MM = 25.0
"""How far one press of an arrow key moves the map [mm]."""
ZOOM_STEP = 1.25
"""How much larger or smaller one press of + or one notch of the wheel makes the map."""
_NOTCH = 120.0
_MM_PER_INCH = 25.4


class MapView(QWidget):
    """The map.

    Its pictures are painted by a thread of their own (`MapFrames`); while the
    map moves, those that are there are shifted and stretched.
    """

    pointed = Signal(object)
    """Ground under the pointer, (x, y) in m, or None when it leaves."""
    picked = Signal(object)
    """What was clicked, a `Chosen` or None."""
    moved = Signal()
    """The view is another."""
    key_changed = Signal()
    """The tool in the hand paints signs that the key does not tell yet, or no longer."""
    painted = Signal()
    """A new picture stands on the screen."""

    def __init__(self, session: Session, contents: MapContents, jobs: Jobs, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._contents = session, contents
        self._frames = MapFrames(jobs, self)
        self._frames.painted.connect(self._frame_painted)
        self.view: View | None = None
        self._pressed: QPoint | None = None
        self._last: QPoint | None = None
        self._dragging = False
        self._shown_path: object = None
        self._shown_under: Bounds | None = None
        self._tool: MapTool | None = None
        self._tool_drags = False
        self._pressing = False
        self.painters_over: list[Callable[[QPainter], None]] = []
        """Called in their order to paint over the map, beneath what the tool paints."""
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName("Map")
        self.setAccessibleDescription(
            "Arrow keys move the map, plus and minus change its size, Home shows the whole farm, Escape lets go."
        )
        self._kept_free_px = 0
        self._fitted: View | None = None  # the view of the whole farm, while nobody has moved it
        session.chosen_changed.connect(self._chosen_changed)

    # What is seen

    def dots_per_mm(self) -> float:
        """Dots of the window for one millimetre, before the screen's own magnification."""
        return self.logicalDpiX() / _MM_PER_INCH

    def whole_farm(self) -> None:
        """Show all of the farm; where nothing is drawn yet, what lies under its map, else the middle of its grid."""
        now = self._contents.now
        if now is not None:
            from farmmap.scene.view import first_ground

            self.show_ground(now.bounds or first_ground(now.farm.grid))
            self._fitted = self.view

    def keep_free(self, left_px: int) -> None:
        """Leave room at the left, where the key lies, when the whole farm is shown, also if that is now [px]."""
        kept = left_px if left_px < self.width() / 2 else 0
        if kept != self._kept_free_px:
            self._kept_free_px = kept
            if self._fitted is not None and self._fitted == self.view:
                self.whole_farm()

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
            self._frames.forget()
            self.view = self._shown_path = self._shown_under = None
            self.update()
            return
        under = now.bounds if now.scene.bounds is None else None
        if self._shown_path != self._session.path or self.view is None:
            self._shown_path, self._shown_under = self._session.path, None
            self._frames.forget()
            self.whole_farm()
        elif under is not None and under != self._shown_under:  # the first that there is to be seen of the farm
            self.whole_farm()
        self._shown_under = under or self._shown_under
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

    def lay_on(self, tiles: TileSource) -> None:
        """Take the pictures under the map from here; called before anything is shown."""
        self._frames.tiles = tiles

    def paint_again(self) -> None:
        """Paint afresh, as pictures under the map have come."""
        self._frames.paint_again()

    @property
    def is_up_to_date(self) -> bool:
        """Whether the picture on the screen is the exact one for what is to be seen."""
        return self._frames.is_exact(self._contents.now, self.view)

    def sizeHint(self) -> QSize:
        """Most of a small screen."""
        return QSize(800, 600)

    def minimumSizeHint(self) -> QSize:
        """Large enough to be of use."""
        return QSize(260, 220)

    @property
    def tool(self) -> MapTool | None:
        """The tool that is offered every event first and paints over the map; None: clicks pick."""
        return self._tool

    @tool.setter
    def tool(self, tool: MapTool | None) -> None:
        self._tool, self._tool_drags = tool, False
        self._show_cursor()
        self.key_changed.emit()
        self.update()

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
        """Zoom by a pinch; let the tool have Tab, and Ctrl+Z if it wants it, before the rest of the window."""
        if isinstance(event, QKeyEvent) and self._tool is not None:
            tabbed = event.key() in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab)
            if tabbed and event.type() == QEvent.Type.KeyPress and self._tool.key_pressed(event):
                return True
            if event.type() == QEvent.Type.ShortcutOverride and self._tool.wants_shortcut(event):
                event.accept()
                return True
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            self.zoom(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of the map."""
        if event.button() == Qt.MouseButton.LeftButton:
            self._dragging = False
            self._pressing = True
            self._tool_drags = self._tool is not None and self._tool.pressed(event)
            self._pressing = False
            self._pressed = self._last = None if self._tool_drags else event.position().toPoint()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag the map, and say what ground lies under the pointer."""
        place = event.position().toPoint()
        if self._tool is not None:
            (self._tool.dragged if self._tool_drags else self._tool.hovered)(event)
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
        if event.button() != Qt.MouseButton.LeftButton:
            return
        if self._tool_drags and self._tool is not None:
            self._tool_drags = False
            self._tool.released(event)
        elif (
            self._pressed is not None
            and not self._dragging
            and not (self._tool is not None and self._tool.clicked(event))
        ):
            self._pick(event.position())
        self._pressed = self._last = None
        self._dragging = False
        self._show_cursor()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Come closer, unless the tool takes it."""
        if self._tool is None or not self._tool.double_clicked(event):
            self.zoom(2.0, event.position())

    def leaveEvent(self, event: QEvent) -> None:
        """No ground lies under the pointer any more."""
        self.pointed.emit(None)
        if self._tool is not None:
            self._tool.left()
        super().leaveEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move by the keyboard, unless the tool takes the key."""
        if self._tool is not None and self._tool.key_pressed(event):
            return
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
            untouched = self._fitted == self.view
            self._set_view(self.view.sized(*self._size_mm()))
            self._fitted = self.view if untouched else None

    def changeEvent(self, event: QEvent) -> None:
        """Paint afresh on a screen of another magnification."""
        if event.type() == QEvent.Type.DevicePixelRatioChange:
            self._ask_for_frame()
        super().changeEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: ARG002 - the whole map is painted
        """Lay the pictures where they belong now, and what is chosen over them."""
        with self._frames.turns:
            self._paint_all()

    # How it is done

    def _paint_all(self) -> None:
        painter = QPainter(self)
        paper = self.palette().color(QPalette.ColorRole.Base)
        if not self._frames.has_picture or self.view is None:
            painter.fillRect(self.rect(), paper)
        else:
            finer = self.devicePixelRatioF()
            painter.save()
            painter.scale(1 / finer, 1 / finer)
            self._frames.lay(painter)
            painter.restore()
            self._paint_over(painter)
            for paint in self.painters_over:
                paint(painter)
            if self._tool is not None:
                self._tool.paint(painter)
        if self.hasFocus():
            painter.setPen(QPen(self.palette().color(QPalette.ColorRole.Accent), 2))
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -1, -1))
        painter.end()

    def _show_cursor(self) -> None:
        if self._tool is None:
            self.unsetCursor()
        else:
            self.setCursor(self._tool.cursor)

    def _paint_over(self, painter: QPainter) -> None:
        from farmmap.window.map_overlay import paint_chosen, paint_empty, paint_forecast, paint_furniture

        now, view = self._contents.now, self.view
        if now is None or view is None:
            return
        paint_chosen(painter, now, self._session.chosen, view, self.dots_per_mm())
        paint_furniture(painter, now, view, self.dots_per_mm())
        paint_forecast(painter, now)
        at_rest = self._tool is None or self._tool.cursor == Qt.CursorShape.ArrowCursor
        if now.bounds is None and at_rest:  # the words would lie over what is being drawn
            paint_empty(painter, now)

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
        if place is not None and not self._pressing:  # what a tool takes hold of stays under the pointer
            self.go_to(*place)
        self.update()

    def _ask_for_frame(self) -> None:
        now, view = self._contents.now, self.view
        if now is not None and view is not None:
            finer = self.devicePixelRatioF()
            self._frames.want(now, view, self.dots_per_mm() * finer, self.size() * finer)

    def _frame_painted(self) -> None:
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
