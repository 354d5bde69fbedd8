"""Trees and crowns as content of a PDF: the look of each kind once, and then no more than its places."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from PySide6.QtGui import QTransform

from farmmap.drawing.pdf_forms import (
    DOTS_PER_MM,
    Content,
    Form,
    FormBook,
    colour_words,
    disc,
    form_name,
    form_of,
    opacity_name,
    said,
)
from farmmap.drawing.pens import colour
from farmmap.drawing.tree_looks import Look, looks_in
from farmmap.drawing.tree_painter import crowns_in
from farmmap.scene.scene import CrownLayer, Ints, TreeLayer
from farmmap.scene.styles import Theme
from farmmap.scene.view import Floats, View

_AT_ONCE = 1000  # moves from one place to the next, before rounding on the reader's side could add up
_OPAQUE = 255


def tree_content(trees: TreeLayer, view: View, theme: Theme, book: FormBook) -> Content:
    """Return operators that paint trees and their signs, as `TreePainter.paint_trees` does.

    Parameters
    ----------
    trees : TreeLayer
        The trees.
    view : View
        What is seen; its upper left corner is the origin.
    theme : Theme
        The look.
    book : FormBook
        Where the looks of trees are kept.

    Returns
    -------
    Content
        In units of 1 / `DOTS_PER_MM` mm, downwards.
    """
    numbered = [(book.number_of(_form(look)), at) for look, at in looks_in(trees, view, theme, DOTS_PER_MM)]
    if not numbered:
        return Content(b"")
    which = np.repeat([number for number, _ in numbered], [len(at) for _, at in numbered])
    return _put_down(which, np.concatenate([at for _, at in numbered]))


def crown_content(crowns: CrownLayer, view: View, book: FormBook) -> Content:
    """Return operators that tint the ground under crowns evenly, as `paint_crowns` does; see `tree_content`."""
    if view.metres_per_mm > crowns.farthest_m_per_mm or not crowns.style.fill:
        return Content(b"")
    x, y, diameter = (np.rint(part).astype(np.int64) for part in crowns_in(crowns, view, DOTS_PER_MM))
    if not len(x):
        return Content(b"")
    alike = np.lexsort([y, diameter])  # in this order they pack well
    circle = book.name_of(disc())
    rows = np.column_stack([diameter, diameter, x, y])[alike]
    discs = (f"q %d 0 0 %d %d %d cm/{circle} Do Q\n" * len(rows)) % tuple(rows.ravel().tolist())
    tint = colour(crowns.style.fill, crowns.style.opacity)
    content = Content(f"{colour_words(tint)} rg\n{discs}".encode(), frozenset({circle}))
    if tint.alpha() == _OPAQUE:
        return content
    frame = (0.0, 0.0, view.width_mm * DOTS_PER_MM, view.height_mm * DOTS_PER_MM)
    whole = book.name_of(Form(content, frame, is_group=True))
    words = f"/{opacity_name(tint.alpha())} gs/{whole} Do\n".encode()
    return Content(words, frozenset({whole}), frozenset({tint.alpha()}))


def in_frame(content: Content, view: View, place: QTransform) -> Content:
    """Return content that shows only inside the frame of its map.

    Parameters
    ----------
    content : Content
        Operators, from the upper left corner of the view.
    view : View
        Its size is that of the frame.
    place : QTransform
        From the view to the page. [1 / `DOTS_PER_MM` mm]
    """
    to_page = " ".join(
        f"{part:.6f}" for part in (place.m11(), place.m12(), place.m21(), place.m22(), place.dx(), place.dy())
    )
    wide, high = (said(side * DOTS_PER_MM) for side in (view.width_mm, view.height_mm))
    words = f"q {to_page} cm 0 0 {wide} {high} re W n\n".encode() + content.words + b"Q\n"
    return replace(content, words=words)


def _put_down(which: Ints, places: Floats) -> Content:
    """Return operators that go from place to place and put a form down at each."""
    at = np.rint(places).astype(np.int64)
    parts: list[str] = []
    for first in range(0, len(at), _AT_ONCE):
        run = at[first : first + _AT_ONCE]
        steps = np.diff(run, axis=0, prepend=np.zeros((1, 2), np.int64))
        rows = np.column_stack([steps, which[first : first + _AT_ONCE]])
        words = "1 0 0 1 %d %d cm/T%d Do\n" * len(run)
        parts.append(f"q\n{words % tuple(rows.ravel().tolist())}Q\n")
    return Content("".join(parts).encode(), frozenset(map(form_name, np.unique(which).tolist())))


@lru_cache(maxsize=2000)
def _form(look: Look) -> Form:
    return form_of(look.paint)
