"""One picture of the map: which ground it shows of which contents, how it is painted, and how it is mended."""

from __future__ import annotations

import math
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRect, QRectF, QSize
from PySide6.QtGui import QColor, QImage, QPainter, QRegion

from farmmap.errors import Stopped

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.drawing.map_painter import MapPainter
    from farmmap.scene.labels import Label
    from farmmap.scene.view import Bounds, View
    from farmmap.window.map_contents import Contents

MOST_WAIT_S = 0.03
"""How long painting in the background waits at most for the window's own painting. [s]"""
TURN_S = 0.0005
"""How long one thread may keep the interpreter from another that waits for it. [s]"""
LONG_TURN_S = 0.003
"""How long it may while the map rests. [s]"""
RESTS_AFTER_S = 0.025
"""The map is taken to rest when the window has not been about to paint for so long. [s]"""
_MOMENT_S = 1e-6  # asleep for the shortest time that there is
BEYOND_MM = 6.0
"""How far symbols and lines reach beyond the ground of what they stand for. [mm]"""
MOST_MENDED = 0.4
"""Largest part of a picture that is mended instead of being painted afresh."""

_ROWS_AT_ONCE = 16

Pause = Callable[[], None]


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture, to be painted or painted already.

    Attributes
    ----------
    contents : Contents
        What is painted.
    view : View
        Which ground.
    dots_per_mm : float
        Resolution, in dots of the device.
    size : QSize
        Width and height. [dots]
    edition : int
        Rises when pictures under the map have come.
    carried_on : Picture or None
        The picture whose edges it carries on, trees as large and names where they are on that.
    named : bool
        Whether names are written.
    image : QImage or None
        The picture, once it is painted.
    labels : tuple of Label
        Names in their places.
    mended : bool
        Whether a part was painted over since, so that a name may not be where it would be found now.
    """

    contents: Contents
    view: View
    dots_per_mm: float
    size: QSize
    edition: int = 0
    carried_on: Picture | None = None
    named: bool = True
    image: QImage | None = None
    labels: tuple[Label, ...] = ()
    mended: bool = False

    def shows(self, other: Picture | None) -> bool:
        """Whether it shows the same as another, neither being mended, whether painted or not."""
        return (
            other is not None
            and self.contents is other.contents
            and self.view == other.view
            and self.dots_per_mm == other.dots_per_mm
            and self.size == other.size
            and self.edition == other.edition
            and self.named == other.named
            and not (self.mended or other.mended)
        )

    def wider(self, dots: int) -> Picture:
        """Return what shows so many dots more on each side; the dots that both have are the same."""
        more = 2 * dots / self.dots_per_mm
        view = self.view.sized(self.view.width_mm + more, self.view.height_mm + more)
        size = self.size + QSize(2 * dots, 2 * dots)
        return Picture(self.contents, view, self.dots_per_mm, size, self.edition, carried_on=self)

    def whole_farm(self) -> Picture:
        """Return what shows the whole farm, without names, at the same size."""
        fitting = type(self.view).fitting(self.contents.scene.bounds, self.view.width_mm, self.view.height_mm, 2.0)
        return Picture(self.contents, fitting, self.dots_per_mm, self.size, self.edition, named=False)

    def is_as_near(self, wanted: Picture) -> bool:
        """Whether it has the scale that is wanted, so that it is laid down dot for dot."""
        return self.view.metres_per_mm == wanted.view.metres_per_mm and self.dots_per_mm == wanted.dots_per_mm

    def place_in(self, wanted: Picture) -> QRectF:
        """Return where it belongs in the picture that is wanted, to the whole dot where the scale is the same."""
        larger = self.view.metres_per_mm / wanted.view.metres_per_mm * wanted.dots_per_mm / self.dots_per_mm
        wide, high = self.size.width() * larger, self.size.height() * larger
        x, y = wanted.view.to_dots(self.view.centre_x, self.view.centre_y, wanted.dots_per_mm)
        left, top = float(x) - wide / 2, float(y) - high / 2
        if self.is_as_near(wanted):
            return QRectF(round(left), round(top), self.size.width(), self.size.height())
        return QRectF(left, top, wide, high)

    def painted(self, map_painter: MapPainter, pause: Pause) -> Picture:
        """Return it painted; may run in any thread."""
        scene, inner = self.contents.scene, self.carried_on
        labels: tuple[Label, ...] = ()
        if inner is not None:
            labels = self._labels_around(map_painter, inner, pause)
        elif self.named:
            labels = tuple(map_painter.labels(scene, self.view, pause))
        image = _made_ready(self.size, pause)
        painter = QPainter(image)
        try:
            map_painter.paint(
                painter,
                scene,
                self.view,
                self.dots_per_mm,
                pause=pause,
                labels=labels,
                as_in=None if inner is None else inner.view,
            )
        finally:
            painter.end()
        return replace(self, image=image, labels=labels)

    def _labels_around(self, map_painter: MapPainter, inner: Picture, pause: Pause) -> tuple[Label, ...]:
        """Names of the picture within, where they are, and others around it."""
        across = (self.view.width_mm - inner.view.width_mm) / 2
        down = (self.view.height_mm - inner.view.height_mm) / 2
        within = (across, down, across + inner.view.width_mm, down + inner.view.height_mm)
        kept = [replace(label, x_mm=label.x_mm + across, y_mm=label.y_mm + down) for label in inner.labels]
        return (*kept, *map_painter.labels(self.contents.scene, self.view, pause, within))

    def mended_with(self, contents: Contents, grounds: list[Bounds], map_painter: MapPainter) -> Picture | None:
        """Return the picture with some ground painted as it is now; None if that is too much of it.

        Parameters
        ----------
        contents : Contents
            What is to be seen now.
        grounds : list of tuple
            Rectangles of ground where that differs from what the picture shows. [m]
        map_painter : MapPainter
            Paints, in the window's thread.
        """
        parts = [part for part in (self._part(ground) for ground in grounds) if not part.isEmpty()]
        image = self.image
        if image is None or sum(part.width() * part.height() for part in parts) > MOST_MENDED * _area(self.size):
            return None
        texts = contents.scene.texts
        labels = tuple(label for label in self.labels if label.name in texts)
        for part in parts:
            fresh = self._fresh(contents, part, labels, map_painter)
            painter = QPainter(image)
            painter.drawImage(part.topLeft(), fresh)
            painter.end()
        return replace(self, contents=contents, labels=labels, mended=True)

    def _part(self, ground: Bounds) -> QRect:
        """Dots that things on some ground may touch."""
        west, south, east, north = ground
        x, y = self.view.to_dots([west, east, east, west], [south, south, north, north], self.dots_per_mm)
        beyond = BEYOND_MM * self.dots_per_mm
        left = min(max(math.floor(float(x.min()) - beyond), 0), self.size.width())
        top = min(max(math.floor(float(y.min()) - beyond), 0), self.size.height())
        right = min(math.ceil(float(x.max()) + beyond), self.size.width())
        bottom = min(math.ceil(float(y.max()) + beyond), self.size.height())
        return QRect(left, top, max(right - left, 0), max(bottom - top, 0))

    def _fresh(self, contents: Contents, part: QRect, labels: tuple[Label, ...], map_painter: MapPainter) -> QImage:
        left, top = part.left() / self.dots_per_mm, part.top() / self.dots_per_mm
        wide, high = part.width() / self.dots_per_mm, part.height() / self.dots_per_mm
        x, y = self.view.to_ground(left + wide / 2, top + high / 2)
        view = self.view.centred(float(x), float(y)).sized(wide, high)
        near = [
            replace(label, x_mm=label.x_mm - left, y_mm=label.y_mm - top)
            for label in labels
            if _touches(label, left, top, left + wide, top + high)
        ]
        image = QImage(part.size(), QImage.Format.Format_RGB32)
        painter = QPainter(image)
        try:
            as_in = self.view if self.carried_on is None else self.carried_on.view
            map_painter.paint(painter, contents.scene, view, self.dots_per_mm, labels=near, as_in=as_in)
        finally:
            painter.end()
        return image


def _made_ready(size: QSize, pause: Pause) -> QImage:
    """Return a black image; its memory is taken in stretches, as Qt would keep the interpreter for ten milliseconds."""
    from farmmap.drawing.stamps import pixels_of

    image = QImage(size, QImage.Format.Format_RGB32)
    dots = pixels_of(image)
    for top in range(0, len(dots), _ROWS_AT_ONCE):
        pause()
        dots[top : top + _ROWS_AT_ONCE] = 0
    return image


def _touches(label: Label, left: float, top: float, right: float, bottom: float) -> bool:
    reach = (label.width_mm + label.height_mm) / 2 + 1.0
    return left - reach < label.x_mm < right + reach and top - reach < label.y_mm < bottom + reach


def _area(size: QSize) -> int:
    return size.width() * size.height()


class Turns:
    """Lets the window's thread go first: it and the background need the interpreter, which serves one at a time.

    The background gives way by falling asleep for a moment, twice a millisecond
    while the map moves, and seldom while it rests, as each moment costs time.
    To rely on Python's own switching is not enough: PySide lets go of the
    interpreter whenever one of its objects dies and takes it back at once. The
    thread that waits is woken each time, too late, and starts counting its
    turn anew; it was seen to wait a tenth of a second.
    """

    def __init__(self) -> None:
        self._free = threading.Event()
        self._free.set()
        self._is_claimed = False  # as the event says, but sooner read
        self._gave_way_at = self._claimed_at = 0.0
        sys.setswitchinterval(min(sys.getswitchinterval(), TURN_S))

    def claim(self) -> None:
        """Keep the background from painting until the window has painted, as that is about to happen."""
        self._claimed_at = time.perf_counter()
        self._free.clear()
        self._is_claimed = True

    def __enter__(self) -> None:
        self.claim()

    def __exit__(self, *_: object) -> None:
        self._let_go()

    def _let_go(self) -> None:
        self._is_claimed = False
        self._free.set()

    def wait(self) -> None:
        """Give way, in another thread, to the window."""
        now = time.perf_counter()
        turn = LONG_TURN_S if now - self._claimed_at > RESTS_AFTER_S else TURN_S
        if now - self._gave_way_at >= turn:
            time.sleep(_MOMENT_S)
            self._gave_way_at = time.perf_counter()
        if self._is_claimed and not self._free.wait(MOST_WAIT_S):
            self._let_go()  # nothing was painted after all: the window is hidden


class Work:
    """One picture on its way, painted by another thread until it is dropped."""

    def __init__(self, picture: Picture, turns: Turns) -> None:
        self.picture = picture
        self.is_dropped = False
        self.is_done = False
        self._turns = turns

    def run(self, map_painter: MapPainter) -> Picture:
        """Return the picture, painted.

        Raises
        ------
        Stopped
            It is not wanted any more.
        """
        try:
            return self.picture.painted(map_painter, self._pause)
        finally:
            self.is_done = True

    def _pause(self) -> None:
        self._turns.wait()
        if self.is_dropped:
            raise Stopped("Another picture is wanted.")


def lay(painter: QPainter, pictures: list[Picture], wanted: Picture) -> None:
    """Lay down what there is of a picture that is wanted.

    Parameters
    ----------
    painter : QPainter
        Its coordinates are dots of the device.
    pictures : list of Picture
        Those there are, the best first; the others fill in what they do not cover.
    wanted : Picture
        What is to be seen.
    """
    whole = QRect(0, 0, wanted.size.width(), wanted.size.height())
    bare = QRegion(whole)
    for picture in pictures:
        assert picture.image is not None
        place = picture.place_in(wanted)
        painter.setClipRegion(bare)  # what a better one covers already is not painted beneath it
        if picture.is_as_near(wanted):
            painter.drawImage(QPointF(place.topLeft()), picture.image)
            covered = place.toRect()
        else:
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, picture is pictures[0])
            painter.drawImage(place, picture.image)
            covered = place.toAlignedRect().adjusted(1, 1, -1, -1)  # its outermost dots are covered in part
        bare = bare.subtracted(QRegion(covered))
        if bare.isEmpty():
            break
    else:
        painter.setClipRegion(bare)
        painter.fillRect(whole, QColor(wanted.contents.scene.theme.outside))
    painter.setClipping(False)
