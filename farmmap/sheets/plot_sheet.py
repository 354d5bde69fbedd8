"""Field sheets for the sample plots of a block: a map with the way to them, and boxes to write their counts in."""

from __future__ import annotations

import datetime as dt

import numpy as np

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.grounds import grounds
from farmmap.figures.sampling.counts import how_many, plot_counts
from farmmap.figures.sampling.sampled import block_of_each_plot
from farmmap.figures.standing import the_day
from farmmap.plans.sampling.route import legs
from farmmap.plans.walk import bearings_from
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_plan import farm_within
from farmmap.scene.page_plots import (
    LEAST_PAGE_MM,
    field_notes,
    helping_tables,
    pages_to_fill,
    plot_bounds,
    plots_to_fill,
    way_table,
)
from farmmap.scene.scene import Scene
from farmmap.scene.sheet_layout import DOT, Content, page_type
from farmmap.scene.view import Bounds
from farmmap.sheets.asked import OnPages, look_of, with_choices
from farmmap.sheets.field_paper import field_page, field_papers
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import (
    NOT_A_SURVEY,
    POWER_LINE,
    SAID_IN_WORDS,
    check_scale,
    north_words,
    not_shown,
    printed_on,
    under_the_map,
)
from farmmap.sheets.settling import settled, wider

HOW_TO = "What to mind at each plot stands above the boxes for its counts, on the next page."
CUT_WORDS = {"way": "the way from plot to plot", "slopes": "the slopes", "limits": "the limiting distances"}


def compose_plots(farm: Farm, block: int, on: dt.date | None = None, options: SheetOptions | None = None) -> Sheet:
    """Return the field sheet of a block's sample plots: a map page, and as many pages of boxes as it takes.

    Parameters
    ----------
    farm : Farm
        The farm.
    block : int
        Id of the block.
    on : date or None
        Day on which trees are shown as they stood; None for that of the newest measurement.
    options : SheetOptions, optional
        Paper, scale and title.

    Raises
    ------
    BadInput
        No plots are laid out in the block, or the paper or scale cannot be used.
    """
    options = options or SheetOptions()
    check_scale(options.scale)
    papers = field_papers(options, LEAST_PAGE_MM)
    counts, here = plot_counts(farm), np.flatnonzero(block_of_each_plot(farm) == block).tolist()
    name = str(farm.blocks["name"].loc[block])
    if not here:
        raise BadInput(f"no sample plots are laid out in {name}, so there is no sheet to print")
    found, day = legs(farm, block, to_measure=True), the_day(farm, on)
    walked = [here[one] for one in np.flatnonzero(np.isin(counts.ids[here], [leg.plot for leg in found])).tolist()]
    bounds = _bounds(farm, block, [*plot_bounds(counts, here)])
    look = look_of(options)
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    printed = printed_on(options)
    title = options.title or f"Sample plots of {name}"
    to_do = f"{len(found)} to measure" if not counts.counted[here].all() else "all measured"

    def made(shown: Bounds) -> tuple[OnPages, Scene]:
        local = farm_within(farm, shown).with_tables(plots=farm.plots.iloc[here])
        scene = build_scene(local, day, theme=look, hidden=options.hidden, margins=(), backdrops=backdrops)
        has_line = bool((local.hazards["kind"] == "power line").any())
        content = Content(
            title=title,
            subtitle=f"{farm.settings.name}, {how_many(len(here))}, {to_do}{DOT}printed {in_words(printed)}",
            key=tuple(entry for entry in scene.key if entry.layer not in SAID_IN_WORDS),
            tables=(way_table(found), *helping_tables(counts, walked)),
            notes=(),
            essential=" ".join((HOW_TO, *under_the_map(scene))),
            cautions=(NOT_A_SURVEY, *((POWER_LINE,) if has_line else ())),
            north=north_words(farm, bounds, options, true_bearings=True),
            bounds=bounds,
            notes_title="In the field",
        )
        return field_page(papers, with_choices(content, farm, options), options.scale, look), scene

    pages_of_map, scene = settled(made, lambda both: both[0].plan, wider(bounds))
    page = pages_of_map.plan
    type_ = page_type(page.paper, look, text_width_mm)
    rest = pages_of_map.further
    to_fill = plots_to_fill(counts, found)
    minded = field_notes(counts, walked, bearings_from(farm.grid))
    pages = (*rest, *pages_to_fill(page.paper, title, to_fill, minded, type_, 1 + len(rest)))
    cut = [CUT_WORDS[part] for part in dict.fromkeys(page.cut) if part in CUT_WORDS]
    short = (f"There is no room for all of {' and '.join(cut)}; larger paper has more room",) if cut else ()
    messages = (*short, *page.amiss, *not_shown(backdrops, options.hidden))
    return Sheet(title, farm, page, scene, messages, second=pages[0], further=pages[1:])


def _bounds(farm: Farm, block: int, plots: list[Bounds]) -> Bounds:
    ground = grounds(farm)
    west, south, east, north = ground.bounds[int(np.searchsorted(ground.ids, block))].tolist()
    every = np.array([(west, south, east, north), *plots])
    low, high = every[:, :2].min(axis=0).tolist(), every[:, 2:].max(axis=0).tolist()
    return low[0], low[1], high[0], high[1]
