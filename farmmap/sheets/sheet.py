"""One page: the map of a farm with its key, tables and notes."""

from __future__ import annotations

import datetime as dt

from farmmap.drawing.fonts import text_width_mm
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
from farmmap.scene.paper import TIMES_A4, Paper, paper_of
from farmmap.scene.scene import Bools, Scene
from farmmap.scene.sheet_layout import Content, PagePlan, page_type, plan_page
from farmmap.scene.styles import theme, with_text
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
from farmmap.sheets.write import write_sheet

__all__ = ["Sheet", "SheetOptions", "compose", "write_sheet"]

SAID_ABOVE = ("What was measured on", "Forecast for", "Diameters at", "Rates are per hectare", "Counted “… plots”")
"""How notes begin that the essential sentence says already."""

CUT_WORDS = {"key": "the species in the key", "blocks": "the blocks", "margins": "the creek margins"}


def compose(farm: Farm, on: dt.date | None = None, options: SheetOptions | None = None) -> Sheet:
    """Return the page of a farm on a day.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date, optional
        The day; that of the newest measurement if not given.
    options : SheetOptions, optional
        Paper, scale and title.

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
    look = with_text(theme("paper"), TIMES_A4[papers[0].name])
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    scene = build_scene(farm, day, theme=look, hidden=options.hidden, backdrops=backdrops)
    content = _content(farm, day, scene, options)
    best = best_page(papers, content, options.scale)
    messages = (*_messages(best, content), *not_shown(backdrops, options.hidden))
    return Sheet(content.title, farm, best, scene, messages)


def papers_of(options: SheetOptions) -> list[Paper]:
    """Return the paper that is asked for, both ways round if that is left open."""
    ways = (True, False) if options.landscape is None else (options.landscape,)
    return [paper_of(options.paper, landscape=way) for way in ways]


def best_page(papers: list[Paper], content: Content, scale: int | None) -> PagePlan:
    """Return the best arrangement of a page, on whichever of some papers shows the ground larger."""
    plans = [plan_page(paper, content, page_type(paper, theme("paper"), text_width_mm), scale) for paper in papers]
    return min(plans, key=lambda plan: (not plan.whole, plan.scale, plan.short_mm, plan.mismatch))


def _content(farm: Farm, day: dt.date, scene: Scene, options: SheetOptions) -> Content:
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
        north=north_words(farm, scene.bounds),
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
    left_out = [CUT_WORDS[name] for name in dict.fromkeys(plan.cut) if name in CUT_WORDS]
    if left_out:
        messages.append(
            f"There is no room for all of {' and '.join(left_out)} on {plan.paper.name}, and the page says what is "
            "left out; larger paper has more room"
        )
    return tuple(messages)
