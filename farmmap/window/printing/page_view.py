"""The page while a sheet is composed: its elements are picked, moved, drawn larger and left out on it."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QImage, QKeyEvent, QMouseEvent, QNativeGestureEvent, QPainter, QWheelEvent
from PySide6.QtWidgets import QWidget

from farmmap.scene.page_moves import Moved
from farmmap.scene.page_snapping import Grip, Place, Surroundings
from farmmap.scene.sheet_layout import MARGIN_MM
from farmmap.sheets.page import Page
from farmmap.window.printing.elements import Element, element_at, element_called, elements_of, troubled
from farmmap.window.printing.held import WHOLE, Held, grips_of, nearest_grip
from farmmap.window.printing.page_paint import (
    GRIP_PX,
    GRIPS_APART_PX,
    OnScreen,
    paint_frames,
    paint_guides,
    paint_picked,
    paint_put,
    picture_of,
)
from farmmap.window.printing.paper_view import ARROWS, PaperView

NUDGE_MM, FAR_NUDGE_MM = 1.0, 5.0
DRAG_PX = 4
"""What is pressed is held, and what is drawn farther than that is moved. [px]"""
OWN_SIZE = frozenset({"scale bar", "north"})
"""Elements that are narrower than the room they are set in."""

_SHAPES = {
    (-1, -1): Qt.CursorShape.SizeFDiagCursor,
    (1, 1): Qt.CursorShape.SizeFDiagCursor,
    (1, -1): Qt.CursorShape.SizeBDiagCursor,
    (-1, 1): Qt.CursorShape.SizeBDiagCursor,
    (0, -1): Qt.CursorShape.SizeVerCursor,
    (0, 1): Qt.CursorShape.SizeVerCursor,
    (-1, 0): Qt.CursorShape.SizeHorCursor,
    (1, 0): Qt.CursorShape.SizeHorCursor,
}


class PageView(PaperView):
    """Shows one page, and lets its elements be put elsewhere.

    Where an element was put is shown at once, by its picture; whoever listens
    composes the page anew and shows it.
    """

    put = Signal(object)
    """A `Moved`: an element was put somewhere, or made larger or smaller."""
    picked = Signal(str)
    """Name of the element that is picked; "" for none."""
    leave_out_wanted = Signal(str)
    described = Signal(str)
    """Which element is picked and where it is, in words; "" for none."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.elements: tuple[Element, ...] = ()
        self.name = ""
        """Name of the element that is picked; "" for none."""
        self.may_arrange = False
        self._by_hand: dict[str, Moved] = {}
        self._asked: dict[str, Moved] = {}
        self._pictures: dict[str, QImage] = {}
        self._held: Held | None = None
        self._hovered = ""
        self.viewport().setMouseTracking(True)

    # What is shown

    def show_page(self, page: Page, image: QImage, *, may_arrange: bool = False, moved: tuple[Moved, ...] = ()) -> None:
        """Show a page.

        Parameters
        ----------
        page : Page
            The page.
        image : QImage
            Its picture.
        may_arrange : bool
            Whether its elements may be put elsewhere.
        moved : tuple of Moved
            What was put somewhere by hand when it was composed.
        """
        self.elements = elements_of(page)
        self.may_arrange = may_arrange
        self._pictures.clear()
        self._by_hand = {one.name: one for one in moved}
        self._asked = {name: one for name, one in self._asked.items() if one not in moved}
        self.show_picture(page, image)
        if self.chosen is None and self._held is None:
            self.pick("")
        self._describe()

    def forget_asked(self) -> None:
        """Show elements where the page has them, as after a step back."""
        self._asked.clear()
        self._held = None
        self.viewport().update()

    def place_of(self, element: Element) -> Place:
        """Return where an element is, or was put since the page was composed. [mm]."""
        if self._held is not None and self._held.before.name == element.name:
            return self._held.place
        asked, was = self._asked.get(element.name), element.place
        if asked is None:
            return was
        return Place(asked.x, asked.y, asked.width or was.width, asked.height or was.height, was.name)

    def pick(self, name: str) -> None:
        """Pick an element by its name; "" to pick none."""
        if name != self.name:
            self.name = name
            self._describe()
            self.picked.emit(name)
        self.viewport().update()

    @property
    def chosen(self) -> Element | None:
        """The element that is picked."""
        return element_called(self.elements, self.name)

    def words(self) -> str:
        """Return which element is picked and where it is, in words; "" for none."""
        element = self.chosen
        if element is None:
            return ""
        place = self.place_of(element)
        return (
            f"{element.words}: {place.x:.0f} mm from the left, {place.y:.0f} mm from the top, "
            f"{place.width:.0f} by {place.height:.0f} mm"
        )

    def _describe(self) -> None:
        """Say to who listens instead of looking which element is picked, and where it is."""
        words = self.words()
        if words != self.accessibleDescription():
            self.setAccessibleDescription(words)
            self.described.emit(words)

    def paint_over(self, painter: QPainter, on: OnScreen) -> None:
        """Paint what was put elsewhere, what is amiss, and what is picked."""
        for element in self.elements:
            now = self.place_of(element)
            if now != element.place:
                paint_put(painter, on, element.place, now, self._picture(element), self.dots_per_mm)
        if not self.may_arrange or self.page is None:
            return
        if self._held is None:
            amiss = troubled(self.page)
            hovered = element_called(self.elements, self._hovered)
            places = [self.place_of(one) for one in self.elements if one.name in amiss]
            paint_frames(painter, on, places, None if hovered is None else self.place_of(hovered))
        else:
            paint_guides(painter, on, self._held.guides)
        if self.chosen is not None:
            paint_picked(painter, on, self.place_of(self.chosen), grips=self._held is None)

    def _picture(self, element: Element) -> QImage:
        made = self._pictures.get(element.name)
        if made is None:
            assert self.page is not None
            assert self.image is not None
            made = picture_of(element, self.image, self.page.theme, self.dots_per_mm)
            self._pictures[element.name] = made
        return made

    # The pointer

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Pick what is under the pointer and take hold of it, or of the page."""
        super().mousePressEvent(event)
        if event.button() != Qt.MouseButton.LeftButton or not self.may_arrange or self.page is None:
            return
        x, y = self.on_screen().to_mm(event.position())
        grip = self._grip_at(x, y)
        if grip is not None and self.chosen is not None:
            self._take(self.chosen, grip)
            return
        element = self._element_at(x, y)
        # a map is moved only once it is picked, so that the page can be drawn along by it
        takes = element is not None and (not element.is_map or element.name == self.name)
        self.pick("" if element is None else element.name)
        if takes and element is not None:
            self._take(element, WHOLE)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Move what is held."""
        if self._held is None or self._pressed is None:
            super().mouseMoveEvent(event)
            if self._pressed is None:
                self._hover(event)
            return
        step = event.position() - self._pressed
        if self._held.has_moved or step.manhattanLength() >= DRAG_PX:
            scale = self.on_screen().scale
            snaps = not event.modifiers() & Qt.KeyboardModifier.ControlModifier
            self._held.draw(step.x() / scale, step.y() / scale, snaps=snaps)
            self._describe()
            self.viewport().update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Let go of what is held."""
        super().mouseReleaseEvent(event)
        held, self._held = self._held, None
        if held is not None and held.has_moved:
            self._ask(held)
        self._hover(event)
        self.viewport().update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Show the whole page again, by a click beside it."""
        if self._element_at(*self.on_screen().to_mm(event.position())) is None:
            self.whole_page()

    def leaveEvent(self, event: QEvent) -> None:
        """Nothing is under the pointer any more."""
        self._hovered = ""
        self.viewport().update()
        super().leaveEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom, unless an element is held."""
        if self._held is None:
            super().wheelEvent(event)
        event.accept()

    def _take(self, element: Element, grip: Grip) -> None:
        assert self.page is not None
        others = tuple(self.place_of(one) for one in self.elements if one.name != element.name)
        around = Surroundings(self.page.paper.width_mm, self.page.paper.height_mm, MARGIN_MM, others)
        self._held = Held.taken(self.place_of(element), grip, around)

    def _ask(self, held: Held) -> None:
        """Ask for an element to be set where it was put."""
        place, element = held.place, element_called(self.elements, held.before.name)
        if element is None:
            return
        if held.grip == WHOLE:
            width, height = self._room_of(element)
        else:
            # text that is only made wider or narrower takes the height that it then needs
            flows = held.grip[1] == 0 and not element.is_picture
            width, height = round(place.width, 2), None if flows else _up(place.height)
        moved = Moved(element.name, round(place.x, 2), round(place.y, 2), width, height)
        self._asked[element.name] = moved
        self._describe()
        self.viewport().update()
        self.put.emit(moved)

    def _room_of(self, element: Element) -> tuple[float | None, float | None]:
        """Return the width and height for which an element is set that is only moved, so that it stays as it is."""
        earlier = self._asked.get(element.name) or self._by_hand.get(element.name)
        if earlier is not None:
            return earlier.width, earlier.height
        if element.name in OWN_SIZE:
            return None, None
        return round(element.place.width, 2), _up(element.place.height)

    def _grip_at(self, x: float, y: float) -> Grip | None:
        if self.chosen is None or not self.may_arrange:
            return None
        place, scale = self.place_of(self.chosen), self.on_screen().scale
        return nearest_grip(place, grips_of(place, GRIPS_APART_PX / scale), x, y, (GRIP_PX / 2 + 3) / scale)

    def _element_at(self, x: float, y: float) -> Element | None:
        if not self.may_arrange:
            return None
        return element_at([replace(one, place=self.place_of(one)) for one in self.elements], x, y)

    def _hover(self, event: QMouseEvent) -> None:
        x, y = self.on_screen().to_mm(event.position())
        element, grip = self._element_at(x, y), self._grip_at(x, y)
        if grip is not None:
            self.viewport().setCursor(_SHAPES[grip])
        elif element is not None and (not element.is_map or element.name == self.name):
            self.viewport().setCursor(Qt.CursorShape.SizeAllCursor)
        else:
            self.viewport().unsetCursor()
        name = "" if element is None else element.name
        if name != self._hovered:
            self._hovered = name
            self.viewport().setToolTip("" if element is None else element.words)
            self.viewport().update()

    # Keys

    def event(self, event: QEvent) -> bool:
        """Let Tab go through the elements; zoom by a pinch."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            way = {Qt.Key.Key_Tab: 1, Qt.Key.Key_Backtab: -1}.get(Qt.Key(event.key()))
            if way is not None and self._pick_next(way):
                return True
        if isinstance(event, QNativeGestureEvent) and event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
            self.zoom(1.0 + event.value(), event.position())
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move what is picked, leave it out, let go of it; else what `PaperView` does."""
        key, element = Qt.Key(event.key()), self.chosen if self.may_arrange else None
        if key == Qt.Key.Key_Escape and self._let_go():
            return
        if self._held is not None:
            return
        if element is not None and key in ARROWS:
            self._step(element, ARROWS[key], event.modifiers())
        elif element is not None and key in {Qt.Key.Key_Delete, Qt.Key.Key_Backspace}:
            self.leave_out_wanted.emit(element.name)
        else:
            super().keyPressEvent(event)

    def _let_go(self) -> bool:
        """Take a drag back, else let go of what is picked; return whether there was anything to let go of."""
        if self._held is not None:
            self._held = self._pressed = None
            self._describe()
            self.viewport().update()
            return True
        if self.name:
            self.pick("")
            return True
        return False

    def _pick_next(self, way: int) -> bool:
        """Pick the next element; return False where there is none, so that the keyboard goes on to the next field."""
        if not self.may_arrange or self._held is not None:
            return False
        names = [one.name for one in self.elements]
        at = names.index(self.name) + way if self.name in names else (0 if way > 0 else len(names) - 1)
        if not 0 <= at < len(names):
            self.pick("")
            return False
        self.pick(names[at])
        return True

    def _step(self, element: Element, way: tuple[int, int], keys: Qt.KeyboardModifier) -> None:
        """Move an element by a millimetre or five, or with Ctrl held make it larger or smaller by that."""
        far = FAR_NUDGE_MM if keys & Qt.KeyboardModifier.ShiftModifier else NUDGE_MM
        grip = (abs(way[0]), abs(way[1])) if keys & Qt.KeyboardModifier.ControlModifier else WHOLE
        held = Held.taken(self.place_of(element), grip, Surroundings(0, 0, 0))
        held.draw(way[0] * far, way[1] * far, snaps=False)
        if held.has_moved:
            self._ask(held)


def _up(height_mm: float) -> float:
    """Round a height up, so that text which fitted it still does."""
    return round(height_mm + 0.005, 2)
