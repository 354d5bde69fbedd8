"""The sheet of photo points: a map of where to stand and which way to look, and the photographs taken from there."""

from __future__ import annotations

import datetime as dt

import numpy as np

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.standing import the_day
from farmmap.files.photos import photos_of
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_photos import how_to_words, photo_pages, points_table
from farmmap.scene.page_plan import farm_within
from farmmap.scene.scene import Scene
from farmmap.scene.sheet_layout import DOT, Content, PagePlan, page_type
from farmmap.scene.view import Bounds
from farmmap.sheets.asked import best_page, look_of, papers_of, with_choices
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import (
    NOT_A_SURVEY,
    SAID_IN_WORDS,
    check_scale,
    north_words,
    not_shown,
    printed_on,
    under_the_map,
)
from farmmap.sheets.settling import settled, wider

AROUND_M = 120.0
"""So much ground is shown around the photo points at the least. [m]"""

IN_THE_WAY = frozenset({"trees", "crowns", "plots", "notes"})
"""Layers left out, as photo points would hardly be seen among them."""

NO_POINTS = "no photo points are drawn on this farm yet; draw one with the Draw tool, or bring them in first"
BEARINGS = "Bearings are from grid north."


def compose_photo_points(farm: Farm, on: dt.date | None = None, options: SheetOptions | None = None) -> Sheet:
    """Return the sheet of a farm's photo points: a map page, and as many pages of photographs as it takes.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date or None
        Day on which trees are shown as they stood; None for that of the newest measurement.
    options : SheetOptions, optional
        Paper, scale and title; ``folder`` is where photographs are looked for.

    Raises
    ------
    BadInput
        There are no photo points, or the paper or scale cannot be used.
    """
    options = options or SheetOptions()
    check_scale(options.scale)
    papers = papers_of(options)
    points = farm.tables["photo_points"]
    if not len(points):
        raise BadInput(NO_POINTS)
    day, look = the_day(farm, on), look_of(options)
    bounds = _bounds(farm)
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    title = options.title or f"Photo points of {farm.settings.name}"
    photos = photos_of(farm, options.folder)

    def made(shown: Bounds) -> tuple[PagePlan, Scene]:
        local = farm_within(farm, shown)
        scene = build_scene(local, day, theme=look, hidden=options.hidden | IN_THE_WAY, margins=(), backdrops=backdrops)
        content = Content(
            title=title,
            subtitle=f"{_how_many(len(points), 'photo point')}, {_how_many(len(photos), 'photograph')}"
            f"{DOT}printed {in_words(printed_on(options))}",
            key=tuple(entry for entry in scene.key if entry.shown and entry.layer not in SAID_IN_WORDS),
            tables=(points_table(farm),),
            notes=(),
            essential=" ".join((how_to_words(farm), BEARINGS, *under_the_map(scene))),
            cautions=(NOT_A_SURVEY,),
            north=north_words(farm, bounds, options),
            bounds=bounds,
            notes_title="How to photograph",
        )
        return best_page(papers, with_choices(content, farm, options), options.scale, look), scene

    page, scene = settled(made, lambda both: both[0], wider(bounds))
    type_ = page_type(page.paper, look, text_width_mm)
    pages = photo_pages(farm, options.folder, page.paper, f"{title}: photographs", type_)
    messages = (*(photo.trouble for photo in photos if photo.trouble), *not_shown(backdrops, options.hidden))
    return Sheet(
        title, farm, page, scene, (*page.amiss, *messages), second=pages[0] if pages else (), further=pages[1:]
    )


def _how_many(count: int, one: str) -> str:
    return f"{count} {one}" if count == 1 else f"{count} {one}s"


def _bounds(farm: Farm) -> Bounds:
    """Ground around the photo points, so that their views lie on the map."""
    points = farm.tables["photo_points"]
    places = points[["x", "y"]].to_numpy(np.float64)
    places = places[np.isfinite(places).all(axis=1)]
    if not len(places):
        raise BadInput(NO_POINTS)
    (west, south), (east, north) = places.min(axis=0).tolist(), places.max(axis=0).tolist()
    return west - AROUND_M, south - AROUND_M, east + AROUND_M, north + AROUND_M
