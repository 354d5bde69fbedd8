"""What is said on a page in sentences: notes, cautions, the grower's own words, and whose work it is."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from itertools import accumulate

from farmmap.scene.page_items import LINE_SPACING, Box, Text, Type, paragraphs, wrapped
from farmmap.scene.styles import TextStyle

BULLET, INDENT_MM = "•", 2.2


def headed(name: str, title: str, texts: Sequence[str], type_: Type, width: float) -> Box:
    """Return paragraphs of small type under a heading.

    Parameters
    ----------
    name : str
        Name of the box.
    title : str
        The heading; without one the paragraphs stand alone.
    texts : sequence of str
        The paragraphs; with none, the box has no height.
    type_ : Type
        Sizes of type.
    width : float
        How wide it is. [mm]
    """
    if not texts:
        return Box(name, 0, 0, width, 0, ())
    style = type_.style(7.2, "bold")
    top = style.size_mm * 1.5 if title else 0.0
    items, high = paragraphs(texts, type_.small, width, type_.width)
    placed = tuple(item.moved(0, top) for item in items)
    head = (Text(0, style.size_mm, title, style),) if title else ()
    return Box(name, 0, 0, width, top + high + 0.4, (*head, *placed))


def bulleted(name: str, title: str, texts: Sequence[str], type_: Type, style: TextStyle, width: float) -> Box:
    """Return texts of a style under a heading, each after a bullet and set in from it."""
    head, indent = type_.style(7.2, "bold"), INDENT_MM * type_.times
    items, y = [Text(0, head.size_mm, title, head)], head.size_mm * 1.5
    for text in texts:
        (first, *rest), high = paragraphs((text,), style, width - indent, type_.width)
        items += [replace(first, x=0.0, text=BULLET).moved(0, y), *(line.moved(indent, y) for line in (first, *rest))]
        y += high + style.size_mm * 0.3
    return Box(name, 0, 0, width, y + 0.4, tuple(items))


def notes_box(
    title: str,
    essential: str,
    notes: Sequence[str],
    type_: Type,
    width: float,
    height: float,
    *,
    apart: bool = False,
    large: bool = False,
    more: str = "",
) -> Box:
    """Return how figures were worked out; where room is short the last sentences give way.

    Parameters
    ----------
    title : str
        The heading.
    essential : str
        What is said in any case, before the notes.
    notes : sequence of str
        Sentences; the last give way first.
    type_ : Type
        Sizes of type.
    width, height : float
        The room. [mm]
    apart : bool
        Whether each begins on a line of its own, after a bullet, instead of all running on.
    large : bool
        Whether those that stand apart are written as large as tables.
    more : str
        What is said of notes that have no room, after how many they are; "" to say nothing.
    """
    said = (*((essential,) if essential else ()), *notes)
    least = 1 if essential else 0
    if not said:
        return Box("notes", 0, 0, width, 0, ())

    style = type_.body if large else type_.small

    def made(kept: int) -> Box:
        texts = _kept(said, kept, more)
        if apart:
            return bulleted("notes", title, texts, type_, style, width)
        return headed("notes", title, (" ".join(texts),) if kept > least else texts, type_, width)

    if apart:
        return made(_how_many_apart(said, more, type_, style, width, height, least)[0])
    if not more:
        return made(_how_many(said, title, type_, width, height, least)[0])
    tries = (made(kept) for kept in range(len(said), least, -1))
    return next((box for box in tries if box.height <= height), made(max(least, 1)))


def _kept(said: Sequence[str], count: int, more: str) -> tuple[str, ...]:
    """Return the first sentences, and how many more there are where that is to be said."""
    left_out = len(said) - count
    return (*said[:count], *((f"And {left_out} more: {more}.",) if left_out and more else ()))


def notes_height(
    title: str,
    essential: str,
    notes: Sequence[str],
    type_: Type,
    width: float,
    height: float,
    *,
    apart: bool = False,
    large: bool = False,
    more: str = "",
) -> float:
    """Return how high notes would be in a room, without setting them; as for `notes_box`. [mm]."""
    said = (*((essential,) if essential else ()), *notes)
    least = 1 if essential else 0
    if not said:
        return 0.0
    if apart:
        style = type_.body if large else type_.small
        return _how_many_apart(said, more, type_, style, width, height, least)[1]
    if more:
        return notes_box(title, essential, notes, type_, width, height, more=more).height
    return _how_many(said, title, type_, width, height, least)[1]


def _how_many(
    said: Sequence[str], title: str, type_: Type, width: float, height: float, least: int
) -> tuple[int, float]:
    """Return how many sentences that run on have room, and their height: they end in the lines that the whole has."""
    lines = wrapped(" ".join(said), type_.small, width, type_.width)
    step = type_.small.size_mm * LINE_SPACING
    top = type_.style(7.2, "bold").size_mm * 1.5 if title else 0.0
    ends = list(accumulate(len(line.split()) for line in lines))
    words = list(accumulate(len(text.split()) for text in said))
    kept = len(said)
    while True:
        high = top + (1 + bisect_left(ends, words[kept - 1])) * step + 0.4
        if high <= height + 1e-9 or kept <= max(least, 1):
            return kept, high
        kept -= 1


def _how_many_apart(
    said: Sequence[str], more: str, type_: Type, style: TextStyle, width: float, height: float, least: int
) -> tuple[int, float]:
    """Return how many sentences that stand apart have room, and their height."""
    room, step = width - INDENT_MM * type_.times, style.size_mm * LINE_SPACING

    def high(text: str) -> float:
        return len(wrapped(text, style, room, type_.width)) * step + style.size_mm * 0.3

    ends = [*accumulate((high(text) for text in said), initial=type_.style(7.2, "bold").size_mm * 1.5 + 0.4)]
    kept = len(said)
    while True:
        rest = [high(text) for text in _kept(said, kept, more)[kept:]]
        whole = ends[kept] + sum(rest)
        if whole <= height + 1e-9 or kept <= max(least, 1):
            return kept, whole
        kept -= 1
