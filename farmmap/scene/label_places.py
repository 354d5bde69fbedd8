"""Places where the name of a thing may be written, the best first."""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator
from functools import lru_cache
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from farmmap.scene.label_curves import STEEP_DEG_A_HEIGHT, Bent, Letter, Line, Spaced, bent, letters_apart
from farmmap.scene.scene import Wording
from farmmap.scene.styles import TextStyle
from farmmap.scene.view import Floats, View

Measure = Callable[[str, TextStyle], tuple[float, float]]
"""Width and height of a text, which may have several lines. [mm]"""

MARK_MM = 2.1
"""From the middle of a mark, which is not written upon, to its name. [mm]"""

LONG = 36
"""Letters from which a name is broken into several lines, and at last shortened."""

MOST_LINES = 3
_STRIP = 0.7
"""Areas that are nowhere thicker than so many sizes of type would vanish under their names."""

_LINE = 30
_SHORT = 24
_LEAST_BROKEN = 9
_MOST_STRETCHES = 40
_STRAIGHT = 0.08
"""A name is straight rather than bent where its line bends by less than so many of its heights."""

_WINDING = 0.2
"""A line winds if a smaller share of its stretches than this is straight."""

_TWO_ENDS = 2


Place = tuple[str, float, float, float, float, float, *tuple[Letter, ...]]
"""What may be written where: text, x and y of its middle, width, height [mm] and turn [degrees], and its letters if it
is bent, as in a `Label`."""


class _Stretch(NamedTuple):
    """A stretch of a line: how bad it is, its first end and its last, and its bend. [mm]."""

    cost: float
    x: float
    y: float
    end_x: float
    end_y: float
    bend: float

    @property
    def angle_deg(self) -> float:
        """Turn clockwise of what is written along it, read from the left. [degrees]."""
        sign = 1.0 if self.end_x >= self.x else -1.0
        return math.degrees(math.atan2(sign * (self.end_y - self.y), sign * (self.end_x - self.x)))


class _Straight(NamedTuple):
    """The straighter stretches of a line, the best first, and the share of all its stretches that are straight."""

    found: list[_Stretch]
    share: float


def places(wording: Wording, x_mm: float, y_mm: float, view: View, measure: Measure) -> Iterator[Place]:
    """Yield the places for a name, the best first.

    Parameters
    ----------
    wording : Wording
        What is to be named.
    x_mm, y_mm : float
        Where its first point lies in the picture. [mm]
    view : View
        The picture.
    measure : callable
        Gives a text's width and height. [mm]
    """
    if wording.along:
        return _along(wording, view, measure)
    return _around(wording, x_mm, y_mm, view.metres_per_mm, measure)


ABOUT = ((0, 0), (1, 0), (-1, 0), (2, 0), (-2, 0), (0, 0.35), (0, -0.35), (1, 0.35), (-1, -0.35))
"""From the middle of an area down, in `DOWN_BY` heights of its name, and to the right, in widths, the best first."""

DOWN_BY = 0.7
_BESIDE = ((0, -1), (1, 0), (-1, 0), (0, 1), (1, -1), (-1, -1), (1, 1), (-1, 1))


def _around(wording: Wording, x_mm: float, y_mm: float, metres_per_mm: float, measure: Measure) -> Iterator[Place]:
    """Places in or about the middle of an area, beside a strip; a long name is broken if that helps."""
    if wording.room_m == math.inf:
        for text in forms(wording.text):
            yield from beside(text, x_mm, y_mm, MARK_MM, measure(text, wording.style), wording.turn_deg)
        return
    sizes = sizes_about(wording, metres_per_mm, measure)
    if is_strip(wording, metres_per_mm):
        thick = wording.width_m / metres_per_mm
        for text, width, height in sizes[:1]:
            for side in (-1, 1):
                yield text, x_mm, y_mm + side * (0.5 + (thick + height) / 2), width, height, 0.0
    for down, across in ABOUT:
        for text, width, height in sizes:
            yield text, x_mm + across * width, y_mm + down * DOWN_BY * height, width, height, 0.0


def sizes_about(wording: Wording, metres_per_mm: float, measure: Measure) -> list[tuple[str, float, float]]:
    """Return the forms of a name over an area that are not too wide for it, with width and height [mm], best first."""
    wide = wording.room_m / metres_per_mm
    sizes = [(text, *measure(text, wording.style)) for text in forms(wording.text)]
    if len(sizes) > 1 and sizes[0][1] > wide:
        sizes[0], sizes[1] = sizes[1], sizes[0]
    return [size for size in sizes if size[1] <= 2.2 * wide + 4.0]


def is_strip(wording: Wording, metres_per_mm: float) -> bool:
    """Whether an area would vanish under its name."""
    return 0 < wording.width_m / metres_per_mm < _STRIP * wording.style.size_mm


def beside(
    text: str, x_mm: float, y_mm: float, out_mm: float, size: tuple[float, float], turn_deg: float = math.nan
) -> Iterator[Place]:
    """Yield places above, right of, left of and below a mark, then at its corners, so far out from its middle.

    Those that lie on the sign of a photo point, which opens by ``turn_deg``, are left out.
    """
    width, height = size
    for right, down in _BESIDE if math.isnan(turn_deg) else _clear_of(turn_deg):
        out = out_mm * (0.75 if right and down else 1.0)
        yield text, x_mm + right * (out + width / 2), y_mm + down * (out + height / 2), width, height, 0.0


def _clear_of(turn_deg: float) -> Iterator[tuple[int, int]]:
    """Yield those sides of a mark that an angle of 50 degrees, 4 mm long, does not reach into where a name begins."""
    for right, down in _BESIDE:
        least = 83.0 if right == 0 else 48.0
        off = (math.degrees(math.atan2(right, -down)) - turn_deg + 180.0) % 360.0 - 180.0
        if abs(off) >= least:
            yield right, down


@lru_cache(maxsize=20_000)
def forms(text: str) -> tuple[str, ...]:
    """Return the ways to write a name over an area: in a line and in two, or a long one in three and shortened."""
    if len(text) <= LONG:
        spaces = [place for place, letter in enumerate(text) if letter == " "]
        if not spaces or len(text) < _LEAST_BROKEN:
            return (text,)
        middle = min(spaces, key=lambda place: abs(place - len(text) / 2))
        return text, f"{text[:middle]}\n{text[middle + 1 :]}"
    whole = "\n".join(_lines(text.split()))
    return tuple(dict.fromkeys((whole, shortened(text, _SHORT))))


def _lines(words: list[str]) -> list[str]:
    """Return words in as many lines as a long name may have, the last ending in … if there are more."""
    lines = [""]
    for place, word in enumerate(words):
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) <= _LINE or not lines[-1]:
            lines[-1] = longer
        elif len(lines) < MOST_LINES:
            lines.append(word)
        else:
            lines[-1] = shortened(" ".join([lines[-1], *words[place:]]), _LINE)
            break
    return [shortened(line, _LINE) for line in lines]


def shortened(text: str, most: int) -> str:
    """Return a text of so many letters at most, ending in … where it is cut."""
    if len(text) <= most:
        return text
    cut = text[:most]
    return (cut[: cut.rfind(" ")] if cut.rfind(" ") > most / 2 else cut).rstrip(" ,;:-–") + "…"


def _along(wording: Wording, view: View, measure: Measure) -> Iterator[Place]:
    """Places along the stretches of a line that are in the picture: straight ones, and bent ones where it bends."""
    x, y = view.to_mm(wording.points[:, 0], wording.points[:, 1])
    line = Line(x, y, np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))]))
    first, last = _seen(x, y, view)
    if last <= first:
        return
    seen, wide = (float(line.run[first]), float(line.run[last])), wording.width_m / view.metres_per_mm
    for text in dict.fromkeys((shortened(wording.text, 2 * LONG), shortened(wording.text, _SHORT))):
        size = measure(text, wording.style)
        if line.run[-1] < size[0] * 1.05:
            continue
        straight = _stretches(line, seen, size)
        letters = letters_apart(text) if len(x) > _TWO_ENDS else ""
        if letters:
            spaced = _spaced(letters, wording.style, measure)
            bends = bent(spaced, size[1], line, seen, wide, (view.width_mm, view.height_mm))
            yield from _straight_or_bent(text, straight, bends, wide, size)
        else:
            for one in straight.found:
                yield from _at_stretch(text, one, wide, size)


def _straight_or_bent(
    text: str, straight: _Straight, bends: Iterator[Bent], wide: float, size: tuple[float, float]
) -> Iterator[Place]:
    """Places on straight stretches, then along bends, then across bends.

    On a line that winds, straight and bent ones come by their cost, the less steep before the steeper.
    """
    height = size[1]
    good = [one for one in straight.found if one.bend <= _STRAIGHT * height]
    if straight.share < _WINDING:
        steep = [height * abs(one.angle_deg) / STEEP_DEG_A_HEIGHT for one in good]
        good = sorted(one._replace(cost=one.cost + more) for one, more in zip(good, steep, strict=True))
    else:
        for one in good:
            yield from _at_stretch(text, one, wide, size)
        good = []
    both: Iterator[_Stretch | Bent] = heapq.merge(good, bends, key=itemgetter(0))
    for straight_or_bent in both:
        if isinstance(straight_or_bent, Bent):
            _, x, y, width, high, letters = straight_or_bent
            yield text, x, y, width, high, 0.0, *letters
        else:
            yield from _at_stretch(text, straight_or_bent, wide, size)
    for across in straight.found:
        if across.bend > _STRAIGHT * height:
            yield from _at_stretch(text, across, wide, size)


def _spaced(letters: str, style: TextStyle, measure: Measure) -> Spaced:
    """Return the letters of a name as they stand in it: what follows a letter may have drawn closer to it."""
    widths = np.array([measure(letter, style)[0] for letter in letters])
    ends = np.array([measure(letters[: many + 1], style)[0] for many in range(len(letters))])
    return Spaced(letters, ends - widths / 2, widths)


def _seen(x: Floats, y: Floats, view: View) -> tuple[int, int]:
    """Corners of a line between which lies all of it that is in the picture; twice the same if nothing is."""
    left, right = np.minimum(x[:-1], x[1:]), np.maximum(x[:-1], x[1:])
    top, bottom = np.minimum(y[:-1], y[1:]), np.maximum(y[:-1], y[1:])
    seen = np.flatnonzero((right > 0) & (left < view.width_mm) & (bottom > 0) & (top < view.height_mm))
    return (int(seen[0]), int(seen[-1]) + 1) if len(seen) else (0, 0)


def _stretches(line: Line, seen: tuple[float, float], size: tuple[float, float]) -> _Straight:
    """Return the straighter stretches of a line as long as a name."""
    width, height = size
    begin = max(min(seen[0], line.run[-1] - width), 0.0)
    end = max(min(seen[1], line.run[-1]) - width, begin)
    starts = np.linspace(begin, end, min(max(int((end - begin) / 4.0), 3), 120))
    steps = starts[:, None] + np.linspace(0.0, width, 7)
    across, down = np.interp(steps, line.run, line.x), np.interp(steps, line.run, line.y)
    dx, dy = across[:, -1] - across[:, 0], down[:, -1] - down[:, 0]
    chord = np.hypot(dx, dy)
    bend = np.abs(dx[:, None] * (down - down[:, :1]) - dy[:, None] * (across - across[:, :1])).max(axis=1)
    bend /= np.maximum(chord, 1e-9)
    cost = bend + np.abs(starts - (begin + end) / 2) / line.run[-1] * height
    usable = (chord > 0.92 * width) & (bend < height)
    best = np.flatnonzero(usable)
    best = best[np.argsort(cost[best])[:_MOST_STRETCHES]]
    found = np.column_stack([cost, across[:, 0], down[:, 0], across[:, -1], down[:, -1], bend])[best].tolist()
    return _Straight([_Stretch(*one) for one in found], float((usable & (bend <= _STRAIGHT * height)).mean()))


def _at_stretch(text: str, one: _Stretch, wide: float, size: tuple[float, float]) -> Iterator[Place]:
    """Beside one stretch of line, above and below, or upon it where it is wide enough, reading from the left."""
    out = 0.0 if wide - 2 * one.bend > 1.5 * size[1] else size[1] / 2 + 0.7 + one.bend + wide / 2
    turn = math.radians(one.angle_deg)
    x, y = (one.x + one.end_x) / 2, (one.y + one.end_y) / 2
    for side in (1.0, -1.0) if out else (1.0,):
        across, up = side * out * math.sin(turn), side * out * math.cos(turn)
        yield text, x + across, y - up, *size, math.degrees(turn)
