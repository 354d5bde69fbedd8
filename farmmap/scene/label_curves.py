"""Names that bend with their line, letter by letter, as rivers are lettered by hand."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from farmmap.scene.view import Floats

MOST_TURN_DEG = 12.0
"""Most that one letter is turned from the next."""

MOST_BEND_DEG = 80.0
"""Most that any letter of a name is turned from any other."""

CLEAR_MM = 0.45
"""Between the letters and the edge of their own line, at least. [mm]"""

_OFF_MM = 0.7
_LEAST_BEND_DEG = 4.0
STEEP_DEG_A_HEIGHT = 120.0
"""So much steeper is as much worse as one height farther from the middle of a line. [degrees]"""

_BEND_DEG_A_HEIGHT, _COST, _COST_BELOW = 120.0, 0.1, 0.02
_STEP_MM = 0.5
_MOST_STEPS = 1600
_MOST_STARTS = 60
_MOST_PLACES = 24
_LEAST_STRETCHED = 0.35  # where the course is shorter than this share of its line, letters would be heaped in a bend
_UPSIDE_DOWN_DEG = 90.0

_APART = frozenset({"LATIN", "GREEK", "CYRILLIC", "CJK", "HIRAGANA", "KATAKANA", "HANGUL", "ARMENIAN"})
"""Scripts whose letters stand each for itself."""


class Letter(NamedTuple):
    """A letter in its place in a bent name.

    Attributes
    ----------
    text : str
        The letter.
    x_mm, y_mm : float
        Its middle, right of and below the middle of the name. [mm]
    width_mm, height_mm : float
        How far it moves the next one on, and the height of the whole name. [mm]
    angle_deg : float
        Turn clockwise about its middle. [degrees]
    """

    text: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    angle_deg: float


class Spaced(NamedTuple):
    """The letters of a straight name: each one's middle from the beginning, and width, shape (n,). [mm]."""

    texts: str
    middles: Floats
    widths: Floats


class Line(NamedTuple):
    """A line in a picture: its corners, and how far along it each lies, all of shape (n,). [mm]."""

    x: Floats
    y: Floats
    run: Floats


class Bent(NamedTuple):
    """A place of a bent name: how bad it is, and the upright rectangle around its letters. [mm]."""

    cost: float
    x: float
    y: float
    width: float
    height: float
    letters: tuple[Letter, ...]


@lru_cache(maxsize=20_000)
def letters_apart(text: str) -> str:
    """Return the letters of a name if each can be written by itself, else nothing: where they join or bear marks."""
    composed = unicodedata.normalize("NFC", text)
    return composed if all(one.isascii() or _is_apart(one) for one in composed) else ""


def _is_apart(one: str) -> bool:
    category = unicodedata.category(one)
    if category[0] == "L" and category != "Lm":
        return unicodedata.name(one, "").split(" ")[0] in _APART
    return category[0] in "PZ" and (one < "\u0100" or "\u2010" <= one <= "\u203f")


class _Course(NamedTuple):
    """What letters stand on beside a line, or upon it: places, directions, and how far along each place lies."""

    x: Floats
    y: Floats
    turn: Floats
    along: Floats
    folds: Floats
    share: Floats


def bent(
    spaced: Spaced, height: float, line: Line, within: tuple[float, float], wide: float, frame: tuple[float, float]
) -> Iterator[Bent]:
    """Yield places along the bends of a line, the best first: beside it, or upon it where it is wide enough.

    A course is laid along the line, its wriggles smoothed away, and the letters stand on it as far apart as in a
    straight name, each turned by the course's direction beneath it. On a course at the distance d from a line which
    has turned by the angle t, what lies at s along the line lies at s + d t (d to the left, t clockwise in radians).

    Parameters
    ----------
    spaced : Spaced
        The letters.
    height : float
        Of the name. [mm]
    line : Line
        The line.
    within : tuple of float
        The stretch of the line that is in the picture. [mm]
    wide : float
        Width of the line. [mm]
    frame : tuple of float
        Width and height of the picture. [mm]
    """
    begin, end = max(within[0] - height, 0.0), min(within[1] + height, line.run[-1])
    steps = np.linspace(begin, end, min(max(int((end - begin) / _STEP_MM), 2), _MOST_STEPS))
    x, y = np.interp(steps, line.run, line.x), np.interp(steps, line.run, line.y)
    upon = wide > 1.5 * height
    found: list[tuple[float, Floats, Floats, Floats]] = []
    for side in (0,) if upon else (1, -1):
        course = _course(x, y, steps[1] - steps[0], height, (side, wide))
        if course is not None:
            found += _stretches(course, spaced, height, side, frame)
    found.sort(key=lambda one: one[0])
    for cost, across, down, turn in found[:_MOST_PLACES]:
        letters = np.column_stack([across, down, spaced.widths, np.full(len(across), height), turn])
        if _is_clear(letters, x, y, wide, upon=upon):
            yield _placed(cost, spaced.texts, letters)


def _course(x: Floats, y: Floats, step: float, height: float, beside: tuple[int, float]) -> _Course | None:
    """Smooth a line by a bell curve as wide as its name is high, and go beside it."""
    half = int(2.5 * height / step)
    if len(x) <= 2 * half or half < 1:
        return None
    bell = np.exp(-0.5 * (np.arange(-half, half + 1) * step / height) ** 2)
    smooth_x, smooth_y = (np.convolve(_carried_on(one, half), bell / bell.sum(), "valid") for one in (x, y))
    turn = np.unwrap(np.arctan2(np.gradient(smooth_y), np.gradient(smooth_x)))
    left_x, left_y = np.sin(turn), -np.cos(turn)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(smooth_x), np.diff(smooth_y)))])
    side, wide = beside
    off = side * ((x - smooth_x) * left_x + (y - smooth_y) * left_y)
    out = side * (height / 2 + _OFF_MM + wide / 2 + min(max(float(off.max()), 0.0), 0.4 * height))
    on_course = along + out * turn
    folded = np.diff(on_course) < _LEAST_STRETCHED * np.diff(along)
    return _Course(
        smooth_x + out * left_x,
        smooth_y + out * left_y,
        turn,
        np.maximum.accumulate(on_course),
        np.concatenate([[0], np.cumsum(folded)]),
        np.linspace(0.0, 1.0, len(x)),
    )


def _carried_on(one: Floats, many: int) -> Floats:
    """Return a line's coordinate with so many more at both ends, turned about them."""
    return np.concatenate([2 * one[0] - one[many:0:-1], one, 2 * one[-1] - one[-2 : -many - 2 : -1]])


def _stretches(
    course: _Course, spaced: Spaced, height: float, side: int, frame: tuple[float, float]
) -> Iterator[tuple[float, Floats, Floats, Floats]]:
    """Yield the best stretches of a course that bend gently: cost, and x, y [mm] and turn [degrees] of each letter."""
    width = float(spaced.middles[-1] + spaced.widths[-1] / 2)
    last = float(course.along[-1]) - width
    first = float(course.along[0])
    if last <= first:
        return
    starts = np.linspace(first, last, min(max(int(3 * (last - first) / width), 3), _MOST_STARTS))
    places = np.arange(len(course.x), dtype=float)
    ends = np.interp(np.column_stack([starts, starts + width]), course.along, places)
    ends_x = np.interp(ends, places, course.x)
    back = (ends_x[:, 1] < ends_x[:, 0])[:, None]
    at = np.interp(starts[:, None] + np.where(back, width - spaced.middles, spaced.middles), course.along, places)
    across, down = np.interp(at, places, course.x), np.interp(at, places, course.y)
    turn = np.degrees(np.interp(at, places, course.turn))
    most = np.abs(np.diff(turn, axis=1)).max(axis=1, initial=0.0)
    total = np.abs(np.diff(turn, axis=1)).sum(axis=1)
    turn = (turn + 180.0 * back + 180.0) % 360.0 - 180.0
    inside = height / 2
    usable = (
        (most <= MOST_TURN_DEG)
        & (total >= _LEAST_BEND_DEG)
        & (np.ptp(turn, axis=1) <= MOST_BEND_DEG)
        & (np.abs(turn).max(axis=1) <= _UPSIDE_DOWN_DEG)
        & (course.folds[ends[:, 1].astype(int)] == course.folds[ends[:, 0].astype(int)])
        & (across.min(axis=1) > inside)
        & (across.max(axis=1) < frame[0] - inside)
        & (down.min(axis=1) > inside)
        & (down.max(axis=1) < frame[1] - inside)
    )
    middle = np.abs(np.interp(ends.mean(axis=1), places, course.share) - 0.5)
    below = (side < 0) != back[:, 0]
    bends = total / _BEND_DEG_A_HEIGHT + np.abs(turn).mean(axis=1) / STEEP_DEG_A_HEIGHT
    cost = height * (_COST + bends + middle + _COST_BELOW * below)
    best = np.flatnonzero(usable)
    for one in best[np.argsort(cost[best])[:_MOST_PLACES]].tolist():
        yield float(cost[one]), across[one], down[one], turn[one]


def _is_clear(letters: Floats, x: Floats, y: Floats, wide: float, *, upon: bool) -> bool:
    """Whether a line, from bank to bank, keeps clear of letters beside it, or holds those upon it."""
    middle_x, middle_y, width, height, turn = letters.T[:, :, None]
    reach = float(height[0, 0]) + wide / 2 + 1.0
    near = (x > middle_x.min() - reach) & (x < middle_x.max() + reach)
    near &= (y > middle_y.min() - reach) & (y < middle_y.max() + reach)
    cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    off_x, off_y = x[near] - middle_x, y[near] - middle_y
    across, down = np.abs(off_x * cos + off_y * sin), np.abs(off_y * cos - off_x * sin)
    if upon:
        return bool((down + height / 2 <= wide / 2)[across < width / 2].all())
    apart = np.hypot(np.maximum(across - width / 2, 0.0), np.maximum(down - height / 2, 0.0))
    return bool(apart.min(initial=math.inf) >= wide / 2 + CLEAR_MM)


def _placed(cost: float, texts: str, letters: Floats) -> Bent:
    corners = corners_of(letters)
    low, most = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
    x, y = ((low + most) / 2).tolist()
    width, height = (most - low).tolist()
    from_middle = (letters - (x, y, 0.0, 0.0, 0.0)).tolist()
    return Bent(cost, x, y, width, height, tuple(Letter(one, *at) for one, at in zip(texts, from_middle, strict=True)))


def corners_of(boxes: Floats, wider_mm: float = 0.0) -> Floats:
    """Return the corners of turned rectangles in turn, shape (n, 4, 2).

    Parameters
    ----------
    boxes : ndarray, shape (n, 5)
        x and y of the middle, width, height [mm] and turn clockwise [degrees].
    wider_mm : float
        How much wider to make them on each side. [mm]
    """
    x, y, width, height, angle = boxes.T
    cos, sin = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    across = (width / 2 + wider_mm)[:, None] * np.array([-1.0, 1.0, 1.0, -1.0])
    down = (height / 2 + wider_mm)[:, None] * np.array([-1.0, -1.0, 1.0, 1.0])
    right = across * cos[:, None] - down * sin[:, None] + x[:, None]
    return np.stack([right, across * sin[:, None] + down * cos[:, None] + y[:, None]], axis=2)
