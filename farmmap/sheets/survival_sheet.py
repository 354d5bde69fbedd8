"""Field sheet for a survival count: boxes for what lives of a planting, and its map on the back."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.standing import the_day
from farmmap.plans.planting.keeping.counting import SurvivalCount, survival_count
from farmmap.plans.planting.keeping.kept import KEPT, PLANTED, KeptPlan, plan_called
from farmmap.plans.planting.recipes.kinds import plant_kinds
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_list import with_map_pages
from farmmap.scene.page_plan import farm_within, farm_without, planting_bounds, planting_items, with_planting
from farmmap.scene.page_plan_key import planting_key_part
from farmmap.scene.page_survival import LEAST_COLUMN_MM, survival_rows, type_in_words
from farmmap.scene.planting_layer import planting_picture
from farmmap.scene.scene import Scene
from farmmap.scene.sheet_layout import DOT, Content, page_type
from farmmap.scene.view import Bounds
from farmmap.sheets.asked import OnPages, look_of, with_choices
from farmmap.sheets.field_paper import field_page, field_papers
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import (
    DRAWN_FROM,
    POWER_LINE,
    SAID_IN_WORDS,
    check_scale,
    north_words,
    not_shown,
    printed_on,
    under_the_map,
)
from farmmap.sheets.plan_sheet import kept_plan
from farmmap.sheets.settling import settled, wider
from farmmap.sheets.write import write_sheet

NOT_PLANTED = "{name} is not marked as planted: all of its plants are taken to have been put in."


def write_survival_sheet(farm: Farm, name: str, path: Path | str, options: SheetOptions | None = None) -> Sheet:
    """Write the field sheet for a survival count as PDF or PNG, and return it.

    Parameters
    ----------
    farm, name, options
        As for `compose_survival`.
    path : Path or str
        Ends in ``.pdf`` or ``.png``.

    Raises
    ------
    BadInput
        As for `compose_survival`, or it cannot be written there.
    """
    sheet = compose_survival(farm, name, options)
    write_sheet(sheet, path)
    return sheet


def compose_survival(farm: Farm, name: str, options: SheetOptions | None = None) -> Sheet:
    """Return the field sheet for counting what lives of a planting: the boxes, the map as the second page.

    Parameters
    ----------
    farm : Farm
        The farm that keeps the plan.
    name : str
        Name of the plan, accepted or planted.
    options : SheetOptions, optional
        Paper, scale and title; without a scale, the largest round one that shows the whole planting.

    Raises
    ------
    BadInput
        The farm has no such plan, it is only kept, nothing is planted in it, or the page cannot be as asked.
    """
    options = options or SheetOptions()
    check_scale(options.scale)
    kept = plan_called(farm, name)
    if kept.state == KEPT:
        raise BadInput(f"{kept.name} is only kept, and nothing of it was planted; accept it first, and count it then")
    plan = kept_plan(farm, kept.name, options.folder)
    kinds = plant_kinds(farm, plan.recipe)
    count = survival_count(plan, kinds)
    bounds = planting_bounds(plan)
    if not count.lines or bounds is None:
        raise BadInput(f"{kept.name} has no plants, so there is nothing to count")
    papers = field_papers(options, LEAST_COLUMN_MM, upright=True)
    title = options.title or f"Survival count: {kept.name}"
    picture, look = planting_picture(farm, plan, kinds.code_and_name), look_of(options)
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    day, without = the_day(farm, None), farm_without(farm, kept.name)

    def made(ground: Bounds) -> tuple[OnPages, Scene]:
        local = farm_within(without, ground)
        scene = build_scene(local, day, theme=look, hidden=options.hidden, margins=(), backdrops=backdrops)
        content = _content(local, kept, count, scene, title, bounds, options)
        content = replace(content, key_first=partial(planting_key_part, plan, picture))
        return field_page(papers, with_choices(content, farm, options), options.scale, look), scene

    pages_of_map, scene = settled(made, lambda both: both[0].plan, wider(bounds, 0.5))
    page = pages_of_map.plan
    type_ = page_type(page.paper, look, text_width_mm)
    signs = (item.moved(*page.frame[:2]) for item in planting_items(plan, picture, page.view, type_))
    layers = with_planting(scene.layers, picture, page.view.metres_per_mm, look)
    rows = survival_rows(count)
    pages = with_map_pages(page.paper, title, rows, type_, pages_of_map.further, map_second=True)
    messages = [*page.amiss, *not_shown(backdrops, options.hidden)]
    if not page.whole:
        messages.append("At this scale only the middle of the planting is shown; take larger paper, or give no scale")
    page = replace(page, over_map=(*signs, *page.over_map))
    return Sheet(
        title, farm, page, replace(scene, layers=layers), tuple(messages), second=pages[0],
        further=pages[1:], map_second=True,
    )  # fmt: skip


def _content(
    farm: Farm,
    kept: KeptPlan,
    count: SurvivalCount,
    scene: Scene,
    title: str,
    bounds: Bounds,
    options: SheetOptions,
) -> Content:
    many = f"{sum(line.planted for line in count.lines):,}".replace(",", "\u202f")
    has_line = bool((farm.hazards["kind"] == "power line").any())
    said = (
        *(() if kept.state == PLANTED else (NOT_PLANTED.format(name=kept.name),)),
        "The boxes are on the page before the map.",
        type_in_words(kept.name, count),
        *under_the_map(scene),
    )
    return Content(
        title=title,
        subtitle=DOT.join((farm.settings.name, f"{many} plants", f"printed {in_words(printed_on(options))}")),
        key=tuple(entry for entry in scene.key if entry.layer not in SAID_IN_WORDS),
        tables=(),
        notes=(),
        essential=" ".join(said),
        cautions=(f"This map is a plan, no survey. {DRAWN_FROM}", *((POWER_LINE,) if has_line else ())),
        north=north_words(farm, bounds, options),
        bounds=bounds,
        notes_title="In the field",
    )
