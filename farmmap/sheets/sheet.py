"""One page: the map of a farm with its key, tables and notes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.margins import margin_figures
from farmmap.figures.result import FigureTable, shown
from farmmap.figures.standing import is_ahead, standing, the_day
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_tables import block_table, margin_table
from farmmap.scene.scene import Bools, Scene
from farmmap.scene.sheet_layout import Content, PagePlan
from farmmap.sheets.asked import best_page, look_of, on_pages, papers_of, with_choices, with_photos
from farmmap.sheets.lettering import not_written
from farmmap.sheets.overview import is_wanted as overview_is_wanted
from farmmap.sheets.overview import overviews, with_overview
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import (
    CHECK_FIRST,
    NOT_A_SURVEY,
    POWER_LINE,
    SAID_IN_WORDS,
    check_scale,
    north_words,
    not_shown,
    under_the_map,
)
from farmmap.sheets.side_by_side import as_it_stands, in_two_maps, need_planned, second_maps
from farmmap.sheets.write import write_sheet

__all__ = ["Sheet", "SheetOptions", "best_page", "compose", "papers_of", "write_sheet"]

SAID_ABOVE = ("What was measured on", "Forecast for", "Diameters at", "Rates are per hectare", "Counted “… plots”")
"""How notes begin that the essential sentence says already."""

LEAST_ACROSS_MM = 3.0
"""A farm that is narrower on the page is hardly to be seen. [mm]"""

CUT_WORDS = {"key": "the species in the key", "blocks": "the blocks", "margins": "the creek margins"}


def compose(
    farm: Farm,
    on: dt.date | None = None,
    options: SheetOptions | None = None,
    change: Callable[[Content], Content] | None = None,
) -> Sheet:
    """Return the page of a farm on a day.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date, optional
        The day; that of the newest measurement if not given.
    options : SheetOptions, optional
        Paper, scale and title.
    change : callable, optional
        Changes what the page says before it is set.

    Raises
    ------
    BadInput
        The paper is not known, the scale cannot be used, or nothing is drawn on the farm yet.
    """
    options = options or SheetOptions()
    check_scale(options.scale)
    papers = papers_of(options)
    if farm.bounds() is None:
        raise BadInput(
            f"nothing is drawn on {farm.settings.name} yet, so there is no map to print; bring in its "
            "boundary, blocks or trees first"
        )
    day = the_day(farm, on)
    look = look_of(options)
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    scene = build_scene(farm, day, theme=look, hidden=options.hidden, backdrops=backdrops)
    content = with_choices(farm_content(farm, day, scene, options), farm, options)
    first = scene
    if options.beside:
        stands = as_it_stands(farm)
        need_planned(farm, stands)
        first = build_scene(stands, day, theme=look, hidden=options.hidden, backdrops=backdrops)
        content = in_two_maps(content)
    content = change(content) if change else content
    made = on_pages(papers, content, options.scale, look)
    bounds = content.bounds
    if overview_is_wanted(options, bounds, made.plan.view.ground_bounds()):
        content = with_overview(content, bounds, options)
        made = on_pages(papers, content, options.scale, look)
    if options.photos:
        made = with_photos(made, farm, content, options, papers, look)
    plan = made.plan
    messages = (*_messages(plan, content), *plan.amiss, *not_shown(backdrops, options.hidden))
    insets = overviews(farm, day, plan, [plan.view], look, bounds)
    second, *further = made.further or ((),)
    sheet = Sheet(
        content.title, farm, plan, first, messages, (*second_maps(plan, scene), *insets), second, tuple(further)
    )
    return replace(sheet, messages=(*messages, *not_written(sheet.document())))


def farm_content(farm: Farm, day: dt.date, scene: Scene, options: SheetOptions) -> Content:
    """Return what the page of a whole farm says."""
    blocks, margins = block_figures(farm, day), margin_figures(farm, day)
    assert scene.bounds is not None
    made = (block_table(blocks, farm.settings.breast_height_m), margin_table(margins))
    tables = [table for table in made if table.cells]
    notes = dict.fromkeys((*(blocks.notes if blocks.rows else ()), *(margins.notes if margins.rows else ())))
    columns = dict.fromkeys(column for table in tables for column in table.columns)
    formulas = [
        f"{CATALOGUE[name].title}: {CATALOGUE[name].formula}."
        for name in columns
        if CATALOGUE[name].formula and name != "basal_area_m2_per_ha"
    ]
    printed = options.printed_on or dt.datetime.now().astimezone().date()
    has_line = bool((farm.hazards["kind"] == "power line").any())
    as_of = "forecast for" if is_ahead(farm, day) else "as of"
    return Content(
        title=options.title or farm.settings.name,
        subtitle=f"Trees and figures {as_of} {in_words(day)}   ·   printed {in_words(printed)}",
        key=tuple(entry for entry in scene.key if entry.layer not in SAID_IN_WORDS),
        tables=tuple(tables),
        notes=(*(note for note in notes if not note.startswith(SAID_ABOVE)), *formulas),
        essential=" ".join(
            (_essential(farm, day, has_blocks=bool(blocks.rows)), *_sampled(blocks), *under_the_map(scene))
        ),
        cautions=(NOT_A_SURVEY, *((POWER_LINE,) if has_line else ()), CHECK_FIRST),
        north=north_words(farm, scene.bounds, options),
        bounds=scene.bounds,
    )


def _essential(farm: Farm, day: dt.date, *, has_blocks: bool) -> str:
    """Conventions that every page with figures says, however short its room."""
    there = standing(farm, day)
    said: list[str] = []
    if len(there):
        how = "as forecast, not measured, for" if there.forecast else "as measured by"
        area = "; per hectare of net area" if has_blocks else ""
        basal = f"; basal area {CATALOGUE['basal_area_m2'].formula}" if has_blocks else ""
        said.append(
            f"Living trees {how} {in_words(day)}, diameters over bark at {there.breast_height_m:.1f} m"
            f"{area}{basal}{_estimated(there.crown_estimated[there.with_crown])}."
        )
    if not has_blocks:
        said.append("No blocks are drawn, so there is no table of blocks.")
    return " ".join(said)


def _sampled(blocks: FigureTable) -> tuple[str, ...]:
    """Say that some blocks are sampled; nothing if none is."""
    if not any("plots" in row for row in blocks.rows):
        return ()
    return ("Blocks counted by plots are estimates from sample plots, ± half of the 95 % interval.",)


def _estimated(crowns: Bools) -> str:
    """Say what share of the crowns was estimated; nothing if none was."""
    if not crowns.any():
        return ""
    share = shown("crown_estimated_percent", float(100 * crowns.mean()))
    return f"; crowns estimated from the stem where not measured ({share} %)"


def _messages(plan: PagePlan, content: Content) -> tuple[str, ...]:
    messages: list[str] = []
    if not plan.whole:
        west, south, east, north = content.bounds
        _, _, wide, high = plan.frame
        metres = plan.view.metres_per_mm
        messages.append(
            f"At 1:{plan.scale} the farm is {(east - west) / metres:.0f} by {(north - south) / metres:.0f} mm and the "
            f"map has room for {wide:.0f} by {high:.0f} mm on {plan.paper.name}: only the middle of the farm is shown; "
            "take larger paper, or leave the scale out"
        )
    west, south, east, north = content.bounds
    across = min(east - west, north - south) / plan.view.metres_per_mm
    if plan.whole and 0 < across < LEAST_ACROSS_MM:
        messages.append(
            f"The farm is so long that it is only {across:.1f} mm across at 1:{plan.scale}; larger paper, or a series "
            "of pages along it (on the command line: --series grid), shows more of it"
        )
    left_out = [CUT_WORDS[name] for name in dict.fromkeys(plan.cut) if name in CUT_WORDS]
    if left_out:
        messages.append(
            f"There is no room for all of {' and '.join(left_out)} on {plan.paper.name}, and the page says what is "
            "left out; larger paper has more room"
        )
    return tuple(messages)
