"""The small map of the whole farm on a page that shows a part of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import replace

from farmmap.drawing.fonts import text_width_mm
from farmmap.farm.farm import Farm
from farmmap.scene.build import build_scene
from farmmap.scene.page_items import Type
from farmmap.scene.page_overview import NAME, frame_mark, holds, overview_frame, overview_part, overview_view
from farmmap.scene.page_stack import Part
from farmmap.scene.page_upon import names_clear_of
from farmmap.scene.scene import LAYER_NAMES, Scene
from farmmap.scene.sheet_layout import Content, PagePlan, page_type
from farmmap.scene.styles import Theme, with_text
from farmmap.scene.view import Bounds, View
from farmmap.sheets.page import MapOnPage, SheetOptions

SHOWN = frozenset({"boundary", "blocks", "creeks", "labels"})
"""Layers of an overview."""

TEXT_TIMES = 0.82
"""Size of its names, in that of names on the large map."""

TITLE = "Where this map lies"


def is_wanted(options: SheetOptions, bounds: Bounds, shown: Bounds) -> bool:
    """Whether a page has an overview: as was chosen, else where it does not show the whole farm."""
    return not holds(shown, bounds) if options.overview is None else options.overview


def with_overview(content: Content, bounds: Bounds, options: SheetOptions, title: str = TITLE) -> Content:
    """Return what a page says with room for an overview after what it says otherwise."""
    before = content.more_parts

    def parts(type_: Type, metres: float) -> tuple[Part, ...]:
        own = before(type_, metres) if before else ()
        return (*own, overview_part(bounds, type_, title, stays=bool(options.overview)))

    return replace(content, more_parts=parts)


def overview_scene(farm: Farm, day: dt.date, look: Theme, hidden: frozenset[str] = frozenset()) -> Scene:
    """Return the farm with no more than its boundary, blocks, creeks and their names."""
    left_out = frozenset(LAYER_NAMES) - SHOWN | hidden
    return build_scene(farm, day, theme=with_text(look, TEXT_TIMES), hidden=left_out, margins=())


def overviews(
    farm: Farm, day: dt.date, plan: PagePlan, views: Iterable[View], look: Theme, whole: Bounds
) -> tuple[MapOnPage, ...]:
    """Return the small map that belongs into its room on a page; none if it has none.

    Parameters
    ----------
    farm : Farm
        The farm.
    day : date
        The day that it shows.
    plan : PagePlan
        The page.
    views : iterable of View
        The large maps whose frames are marked.
    look : Theme
        The look.
    whole : tuple of float
        What it shows. [grid m]
    """
    box = next((box for box in plan.boxes if box.name == NAME), None)
    if box is None:
        return ()
    type_ = page_type(plan.paper, look, text_width_mm)
    frame = overview_frame(box)
    view = overview_view(whole, *frame[2:])
    marks = [mark for large in views for mark in frame_mark(large.ground_bounds(), view, type_)]
    scene = names_clear_of(overview_scene(farm, day, look), marks, view, type_)
    return (MapOnPage(frame, view, scene, tuple(mark.moved(*frame[:2]) for mark in marks), NAME),)
