"""Small pictures laid down at many places of an image at once, with NumPy.

A picture is rasterised once. A small one is laid down by one indexed assignment
for all the places where it stands, which is some hundred times as fast as a
painter's call for each; a large one, or one that stands at few places, by Qt.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage, QPainter

from farmmap.scene.view import Floats

Pixels = NDArray[np.uint32]
"""Premultiplied ARGB, shape (height, width)."""

_ROUND_OF_DOTS = 65_536  # so many dots are worked on at a time, to stay inside the caches
_LARGE = 9  # dots to each side of a stamp's place from which Qt lays it down more quickly than NumPy does
_RUNS_AT_ONCE, _ROWS_AT_ONCE, _DRAWN_AT_ONCE = 4_096, 64, 256  # each takes about a millisecond


def _go_on() -> None:
    """Nobody else waits for a turn."""


class Dots(NamedTuple):
    """The dots that a stamp covers.

    Attributes
    ----------
    across, down : ndarray of int32, shape (n,)
        Where each dot lies from the place that is stamped; covered-in-part ones first.
    colours : ndarray of uint32, shape (n,)
        Premultiplied ARGB.
    partly : int
        How many dots are covered only in part.
    """

    across: NDArray[np.int32]
    down: NDArray[np.int32]
    colours: NDArray[np.uint32]
    partly: int


@dataclass(frozen=True, eq=False)
class Stamp:
    """A small picture that is laid down at many places.

    Attributes
    ----------
    picture : QImage
        Premultiplied ARGB on clear ground, the place that is stamped in its middle dot.
    """

    picture: QImage

    @cached_property
    def reach(self) -> int:
        """Dots that it reaches from the place, at most."""
        if self.is_large:
            return self.half
        return int(max(np.abs(self.dots.across).max(initial=0), np.abs(self.dots.down).max(initial=0)))

    @property
    def is_large(self) -> bool:
        """Whether Qt's own way of laying a picture down is the quicker one."""
        return self.half >= _LARGE

    @property
    def half(self) -> int:
        """Dots from the middle of its picture to each edge."""
        return self.picture.width() // 2

    @cached_property
    def dots(self) -> Dots:
        """Its dots one by one."""
        square = pixels_of(self.picture)
        down, across = np.nonzero(square)
        colours = square[down, across].copy()
        full = (colours >> np.uint32(24)) == 255
        order = np.argsort(full, kind="stable")
        return Dots(
            (across - self.half)[order].astype(np.int32),
            (down - self.half)[order].astype(np.int32),
            colours[order],
            int((~full).sum()),
        )

    @cached_property
    def only_colour(self) -> np.uint32 | None:
        """Colour of all its dots, if they are all fully covered and have the same."""
        colours = self.dots.colours
        plain = len(colours) > 0 and not self.dots.partly and bool((colours == colours[0]).all())
        return colours[0] if plain else None

    def offsets(self, stride: int) -> NDArray[np.intp]:
        """Return where its dots lie from the place in an image with so many dots a row, shape (n, 1)."""
        if stride not in self._offsets:
            self._offsets[stride] = (self.dots.down * stride + self.dots.across).astype(np.intp)[:, None]
        return self._offsets[stride]

    @cached_property
    def _offsets(self) -> dict[int, NDArray[np.intp]]:
        return {}

    def hardened(self, colour: int | None) -> Stamp:
        """Return the stamp with dots that are either covered or not, in one colour or in their own."""
        picture = self.picture.copy()
        square = pixels_of(picture)
        alpha = square >> np.uint32(24)
        keep = alpha > 127
        if colour is None:
            channels = square[keep].view(np.uint8).reshape(-1, 4) * (255.0 / alpha[keep])[:, None]
            square[keep] = np.minimum(np.round(channels), 255).astype(np.uint8).view(np.uint32)[:, 0]
        else:
            square[keep] = colour
        square[~keep] = 0
        return Stamp(picture)


def pixels_of(image: QImage) -> Pixels:
    """Return the dots of an image as an array that shares its memory."""
    dots = np.frombuffer(image.bits(), np.uint32).reshape(image.height(), image.bytesPerLine() // 4)
    return dots[:, : image.width()]


def blank_image(width: int, height: int) -> QImage:
    """Return a clear image of premultiplied ARGB."""
    image = QImage(max(width, 1), max(height, 1), QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    return image


def make_stamp(reach: float, paint: Callable[[QPainter, float], None], *, smooth: bool) -> Stamp:
    """Return a stamp of what is painted.

    Parameters
    ----------
    reach : float
        How far the painting goes from its place. [dots]
    paint : callable
        Paints with a painter about the place (middle, middle).
    smooth : bool
        Whether edges are softened.
    """
    half = int(np.ceil(reach)) + 1
    image = blank_image(2 * half + 1, 2 * half + 1)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, smooth)
    try:
        paint(painter, half + 0.5)
    finally:
        painter.end()
    return Stamp(image)


class Canvas:
    """An image that stamps are laid on.

    Parameters
    ----------
    dots : ndarray of uint32, shape (height, width)
        The image, changed in place.
    pause : callable
        Called between slices of work; may raise to stop.
    few : bool
        Whether each stamp will stand at few places, so that Qt lays down the small ones sooner too. The two ways may
        differ by one step of colour, so pictures that are to be the same to the dot must agree in this.
    """

    def __init__(self, dots: Pixels, pause: Callable[[], None] = _go_on, *, few: bool = False) -> None:
        self.dots, self._pause, self._few = dots, pause, few
        self.height, self.width = dots.shape
        self._image = QImage(
            dots.data, self.width, self.height, dots.strides[0], QImage.Format.Format_ARGB32_Premultiplied
        )
        self.stride = dots.strides[0] // 4
        """Dots from one row to the next."""
        self.flat = np.lib.stride_tricks.as_strided(dots, (self.stride * (self.height - 1) + self.width,), (4,))
        """All dots, row by row."""

    def lay_down(self, stamp: Stamp, x: NDArray[np.int32], y: NDArray[np.int32]) -> None:
        """Lay a stamp down at many places; what sticks out is cut off.

        Parameters
        ----------
        stamp : Stamp
            The stamp.
        x, y : ndarray of int32, shape (n,)
            The places.
        """
        if not len(x):
            return
        if stamp.is_large or self._few:
            self._draw(stamp.picture, (x - stamp.half).tolist(), (y - stamp.half).tolist())
            return
        reach = stamp.reach
        if x.min() < reach or y.min() < reach or x.max() >= self.width - reach or y.max() >= self.height - reach:
            inside = (x >= reach) & (x < self.width - reach) & (y >= reach) & (y < self.height - reach)
            self.lay_down_cut(stamp, x[~inside], y[~inside])
            x, y = x[inside], y[inside]
        self.lay_down_inside(stamp, self.starts(x, y))

    def _draw(self, picture: QImage, lefts: list[int], tops: list[int]) -> None:
        """Lay a picture down by Qt, its upper left corner at each place."""
        painter = QPainter(self._image)
        try:
            for number, (left, top) in enumerate(zip(lefts, tops, strict=True)):
                if number % _DRAWN_AT_ONCE == _DRAWN_AT_ONCE - 1:
                    self._pause()
                painter.drawImage(left, top, picture)
        finally:
            painter.end()

    def starts(self, x: NDArray[np.int32], y: NDArray[np.int32]) -> NDArray[np.intp]:
        """Return the places in `flat` of some dots."""
        out = y.astype(np.intp)
        out *= self.stride
        out += x
        return out

    def lay_down_inside(self, stamp: Stamp, start: NDArray[np.intp]) -> None:
        """Lay a stamp down at places in `flat` where it fits into the image."""
        offsets, colour = stamp.offsets(self.stride), stamp.only_colour
        if colour is not None and len(start) * len(offsets) <= _ROUND_OF_DOTS:
            self.flat[(start + offsets).ravel()] = colour
            return
        if not len(offsets):
            return
        at_once = max(_ROUND_OF_DOTS // len(offsets), 1)
        for first in range(0, len(start), at_once):
            self._write(start[first : first + at_once], offsets, stamp)

    def _write(self, start: NDArray[np.intp], offsets: NDArray[np.intp], stamp: Stamp) -> None:
        flat, (_, _, colours, partly) = self.flat, stamp.dots
        if partly:
            where = (start + offsets[:partly]).ravel()
            below = flat[where].reshape(partly, -1)
            flat[where] = _over(colours[:partly, None], below).ravel()
        if partly < len(offsets):
            where = (start + offsets[partly:]).ravel()
            flat[where] = np.repeat(colours[partly:], len(start))

    def lay_down_cut(self, stamp: Stamp, x: NDArray[np.int32], y: NDArray[np.int32]) -> None:
        """Lay a stamp down at places where it sticks out of the image."""
        across, down = x[:, None] + stamp.dots.across, y[:, None] + stamp.dots.down
        seen = (across >= 0) & (across < self.width) & (down >= 0) & (down < self.height)
        down *= self.stride
        down += across
        where, colour = down[seen], stamp.only_colour
        if colour is not None:
            self.flat[where] = colour
            return
        colours = np.broadcast_to(stamp.dots.colours, across.shape)[seen]
        self.flat[where] = _over(colours, self.flat[where])


def _over(above: NDArray[np.uint32] | np.uint32, below: NDArray[np.uint32]) -> NDArray[np.uint32]:
    """Premultiplied colours laid over others; two channels are worked on at once."""
    mask = np.uint32(0x00FF00FF)
    left = np.uint32(256) - (above >> np.uint32(24)) - (above >> np.uint32(31))
    red_blue = (((below & mask) * left) >> np.uint32(8)) & mask
    alpha_green = (((below >> np.uint32(8)) & mask) * left) & ~mask
    return above + red_blue + alpha_green


def tint(
    dots: Pixels, covered: NDArray[np.bool_], colour: int, opacity: float, pause: Callable[[], None] = _go_on
) -> None:
    """Lay one even tint over part of an image.

    Parameters
    ----------
    dots : ndarray of uint32, shape (height, width)
        The image, changed in place.
    covered : ndarray of bool, shape (height, width)
        Which dots are covered.
    colour : int
        0xRRGGBB.
    opacity : float
        Of the tint.
    pause : callable
        Called between slices of work; may raise to stop.
    """
    channels = [round(255 * opacity), *(round(((colour >> shift) & 255) * opacity) for shift in (16, 8, 0))]
    above = np.uint32(sum(channel << (24 - 8 * place) for place, channel in enumerate(channels)))
    for top in range(0, len(dots), _ROWS_AT_ONCE):
        pause()
        part, under = dots[top : top + _ROWS_AT_ONCE], covered[top : top + _ROWS_AT_ONCE]
        part[under] = _over(above, part[under])


def under_discs(
    height: int, width: int, x: Floats, y: Floats, diameter: Floats, pause: Callable[[], None] = _go_on
) -> NDArray[np.bool_]:
    """Return which dots lie under any of many discs.

    Each disc is a run of dots in every row that it crosses; the ends of all
    runs are counted into one picture, which is then summed along the rows.

    Parameters
    ----------
    height, width : int
        Size of the picture.
    x, y, diameter : ndarray, shape (n,)
        The discs. [dots]
    pause : callable
        Called between slices of work; may raise to stop.

    Returns
    -------
    ndarray of bool, shape (height, width)
        Whether a dot's middle is covered.
    """
    stride = width + 1
    starts = np.zeros(height * stride, np.int32)
    radius = diameter / 2
    low = _within(np.ceil(y - radius - 0.5), height)
    many = np.maximum(_within(np.floor(y + radius - 0.5) + 1, height) - low, 0)
    runs = np.cumsum(many)
    first = 0
    while first < len(x):
        pause()
        before = int(runs[first - 1]) if first else 0
        last = max(int(np.searchsorted(runs, before + _RUNS_AT_ONCE, side="right")), first + 1)
        part = slice(first, last)
        _count_ends(starts.reshape(height, stride), x[part], y[part], radius[part], low[part], many[part])
        first = last
    covered = np.empty((height, width), np.bool_)
    for top in range(0, height, _ROWS_AT_ONCE):
        pause()
        rows = slice(top, top + _ROWS_AT_ONCE)
        depth = np.cumsum(starts.reshape(height, stride)[rows, :width], axis=1, dtype=np.int32)
        np.greater(depth, 0, out=covered[rows])
    return covered


def _within(places: Floats, most: int) -> NDArray[np.int64]:
    """Whole places from 0 to the most."""
    return np.minimum(np.maximum(places, 0), most).astype(np.int64)


def _count_ends(
    starts: NDArray[np.int32],
    x: Floats,
    y: Floats,
    radius: Floats,
    low: NDArray[np.int64],
    many: NDArray[np.int64],
) -> None:
    """Add 1 where a disc's run of dots begins in one of its rows, take 1 away where it ends."""
    stride = starts.shape[1]
    disc = np.repeat(np.arange(len(x)), many)
    row = np.arange(len(disc)) - np.repeat(np.cumsum(many) - many - low, many)
    middle = x[disc]
    half = np.sqrt(np.maximum((radius**2)[disc] - (row + 0.5 - y[disc]) ** 2, 0.0))
    first = _within(np.ceil(middle - half - 0.5), stride - 1)
    last = _within(np.floor(middle + half - 0.5) + 1, stride - 1)
    row *= stride
    ones = np.ones(len(row), np.int32)  # of the same type, which is added several times as fast
    np.add.at(starts.ravel(), row + first, ones)
    np.subtract.at(starts.ravel(), row + np.maximum(first, last), ones)
