"""One page for a planting: its map, what to order, its fence, who pays, and what will come of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from farmmap.drawing.fonts import text_width_mm
from farmmap.editing.words import listed
from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.remembered import Remembered
from farmmap.figures.standing import is_ahead, the_day
from farmmap.plans.planting.keeping.kept import KEPT, plan_called, recipe_of
from farmmap.plans.planting.make import GUIDANCE, make_plan
from farmmap.plans.planting.outcome.cover import expected_cover
from farmmap.plans.planting.outcome.months import latitude_deg
from farmmap.plans.planting.outcome.report import LAST_WORDS, PlanReport, plan_report
from farmmap.plans.planting.plan import PlantingPlan
from farmmap.plans.planting.recipes.kinds import PlantKinds, plant_kinds
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_items import Box, Shape, Type
from farmmap.scene.page_overview import holds
from farmmap.scene.page_plan import farm_within, farm_without, planting_bounds, planting_items, with_planting
from farmmap.scene.page_plan_detail import NAME as DETAIL
from farmmap.scene.page_plan_detail import detail_box, detail_frame, detail_view
from farmmap.scene.page_plan_key import planting_key_part
from farmmap.scene.page_plan_tables import SEE, more_of_plan, plan_tables
from farmmap.scene.page_second import SecondPage, second_page
from farmmap.scene.page_stack import Part
from farmmap.scene.page_upon import names_clear_of
from farmmap.scene.paper import Paper
from farmmap.scene.planting_layer import PlantingPicture, planting_picture
from farmmap.scene.scene import LabelLayer, Scene
from farmmap.scene.sheet_layout import DOT, Content, PagePlan, page_type
from farmmap.scene.styles import Theme
from farmmap.scene.view import Bounds, View
from farmmap.sheets.asked import best_page, look_of, on_pages, papers_of, with_choices
from farmmap.sheets.overview import overviews, with_overview
from farmmap.sheets.page import MapOnPage, Sheet, SheetOptions
from farmmap.sheets.page_words import (
    DRAWN_FROM,
    POWER_LINE,
    SAID_IN_WORDS,
    check_scale,
    north_words,
    not_shown,
    under_the_map,
)
from farmmap.sheets.settling import settled, wider
from farmmap.sheets.side_by_side import in_two_maps, second_maps

YEARS = (1.0, 5.0, 10.0, 20.0)
"""Years after planting for which cover is told."""

MUCH_LARGER = 2.0
"""A second page is taken if the map is more than so many times as large for it."""

ON_THE_SECOND = "What to order, the fence, who pays, the cover to come and what to check stand on the second page."

CUT_WORDS = {
    "key": "the kinds of plants in the key",
    "also": "the species that stand there",
    "zones": "the zones",
    "order": "the plants to order",
    "fence": "the fences",
    "costs": "the costs",
    "cover": "the cover",
    "notes": "the notes",
}


_PLANS: Remembered[PlantingPlan] = Remembered(4)
_REPORTS: Remembered[PlanReport] = Remembered(4)


def compose_kept(farm: Farm, on: dt.date | None, name: str, options: SheetOptions | None = None) -> Sheet:
    """Return the page of a plan that is kept on the farm, accepted or planted, made again from its recipe.

    Parameters
    ----------
    farm, on, options
        As for `compose_plan`.
    name : str
        Name of the plan.

    Raises
    ------
    BadInput
        The farm has no such plan, it can no longer be made, or the page cannot be as asked.
    """
    options = options or SheetOptions()
    kept = plan_called(farm, name)
    plan = kept_plan(farm, name, options.folder)
    sheet = compose_plan(farm, on, plan, options)
    there = int((farm.trees["plan"] == kept.name).sum())
    if kept.state == KEPT or there == len(plan.plants):
        return sheet
    changed = (
        f"{kept.name} is {kept.state} with {there:,} plants on the farm; made again from its recipe for this page it "
        f"has {len(plan.plants):,}, as the farm was changed since"
    )
    return replace(sheet, messages=(*sheet.messages, changed))


def kept_plan(farm: Farm, name: str, folder: Path | None = None) -> PlantingPlan:
    """Make a kept plan again from its recipe, as if nothing of it stood on the farm yet.

    Parameters
    ----------
    farm : Farm
        The farm that keeps it.
    name : str
        Name of the plan.
    folder : Path, optional
        Folder of the farm file, where its elevation grid is looked for.

    Raises
    ------
    BadInput
        The farm has no such plan, or it can no longer be made.
    """
    kept = plan_called(farm, name)
    heights = None if folder is None else find_backdrops(farm, folder).heights

    def make() -> PlantingPlan:
        without = farm_without(farm, kept.name)
        return make_plan(without, kept.stretch, recipe_of(farm, kept), name=kept.name, heights=heights)

    return _PLANS.get((farm, heights), (kept.name,), make)


def compose_plan(farm: Farm, on: dt.date | None, plan: PlantingPlan, options: SheetOptions | None = None) -> Sheet:
    """Return the page of a planting.

    Parameters
    ----------
    farm : Farm
        The farm; what is on it from a plan of that name is left out, as the plan itself is drawn.
    on : date or None
        Day on which trees are shown as they stood; None for that of the newest measurement.
    plan : PlantingPlan
        The planting.
    options : SheetOptions, optional
        Paper, scale and title; without a scale, the largest round one that shows the whole planting.

    Raises
    ------
    BadInput
        The paper is not known, the scale cannot be used, or there is nothing to draw of the planting.
    """
    options = options or SheetOptions()
    check_scale(options.scale)
    papers = papers_of(options)
    bounds = planting_bounds(plan)
    if bounds is None:
        raise BadInput(f"{plan.name} has no ground and no fence, so there is no map to print of it")
    of_farm, farm, day = farm, farm_without(farm, plan.name), the_day(farm, on)
    look = look_of(options)
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    kinds = plant_kinds(farm, plan.recipe)
    picture = planting_picture(farm, plan, kinds.code_and_name)
    report = _REPORTS.get((of_farm, plan), (), lambda: _report(farm, plan, kinds))

    whole = of_farm.bounds() or bounds

    def at_hand(ground: Bounds) -> _Set:
        local = farm_within(farm, ground)
        scene = build_scene(local, day, theme=look, hidden=options.hidden, margins=(), backdrops=backdrops)
        content = with_choices(_content(local, day, report, picture, scene, bounds, options), farm, options)
        if options.beside:
            content = in_two_maps(content)
        if options.overview or (options.overview is None and not holds(ground, whole)):
            content = with_overview(content, whole, options)
        return _set(papers, content, report, scene, options.scale)

    made = settled(at_hand, lambda one: one.page, wider(bounds, 0.5))
    second, *further = (made.second.boxes,) if made.second else made.further or ((),)
    sheet = Sheet(made.content.title, of_farm, made.page, made.scene, (), second=second, further=tuple(further))
    messages = (*_messages(made), *made.page.amiss, *not_shown(backdrops, options.hidden))
    drawn = _drawn(sheet, plan, picture, look)
    insets = (*drawn.insets, *overviews(farm, day, made.page, [made.page.view], look, whole))
    return replace(drawn, insets=insets, messages=messages)


@dataclass(frozen=True, eq=False)
class _Set:
    """A page that is set, and what has no room beside its map on a second one."""

    page: PagePlan
    content: Content
    scene: Scene
    second: SecondPage | None
    further: tuple[tuple[Box, ...], ...] = ()


def _set(papers: list[Paper], content: Content, report: PlanReport, scene: Scene, scale: int | None) -> _Set:
    """Set all of it on one page; on two if it does not all fit, or the map is so much larger then."""
    one = None
    for apart in (True, False):  # notes that run on take less room
        try:
            one = best_page(papers, replace(content, notes_apart=apart), scale, scene.theme)
        except BadInput:
            continue
        if not _short(one.cut):
            break
    zones = tuple(table for table in content.tables if table.name == "zones")
    first = replace(content, tables=zones, notes=(), essential=f"{content.essential} {ON_THE_SECOND}")
    try:
        page = best_page(papers, first, scale, scene.theme)
    except BadInput:  # small paper: little but the map on its page
        made = on_pages(papers, replace(content, notes_apart=False), scale, scene.theme)
        return _Set(made.plan, content, scene, None, made.further)
    if one is not None and not _short(one.cut) and one.scale <= MUCH_LARGER * page.scale:
        return _Set(one, content, scene, None)
    rest = tuple(table for table in content.tables if table.name not in {"zones", *content.left_out})
    notes = () if "notes" in content.left_out else content.notes
    type_ = page_type(page.paper, scene.theme, text_width_mm)
    second = second_page(page.paper, replace(content, tables=rest, notes=notes), type_, more_of_plan(report, type_))
    return _Set(page, first, scene, second)


def _short(cut: tuple[str, ...]) -> list[str]:
    """Return in words from what something was left out that is missed."""
    return [CUT_WORDS[name] for name in dict.fromkeys(cut) if name in CUT_WORDS]


def _report(farm: Farm, plan: PlantingPlan, kinds: PlantKinds) -> PlanReport:
    return plan_report(plan, expected_cover(farm, plan, kinds, YEARS), latitude_deg(farm, plan), kinds)


def _content(
    farm: Farm,
    day: dt.date,
    report: PlanReport,
    picture: PlantingPicture,
    scene: Scene,
    bounds: Bounds,
    options: SheetOptions,
) -> Content:
    plan = report.plan
    printed = options.printed_on or dt.datetime.now().astimezone().date()
    has_line = bool((farm.hazards["kind"] == "power line").any())
    as_of = "as forecast for" if is_ahead(farm, day) else "as of"
    essential = (f"Trees that stand are shown {as_of} {in_words(day)}.", *under_the_map(scene))
    notes = tuple(note if note.endswith(".") else f"{note}." for note in report.notes if note != GUIDANCE)
    return Content(
        title=options.title or plan.name,
        subtitle=DOT.join((_where(farm, plan), f"recipe {plan.recipe.title}", f"printed {in_words(printed)}")),
        key=tuple(entry for entry in scene.key if entry.layer not in SAID_IN_WORDS),
        tables=plan_tables(report),
        notes=notes,
        essential=" ".join(essential),
        cautions=(
            f"{LAST_WORDS[0]} {DRAWN_FROM}",
            GUIDANCE,
            LAST_WORDS[1],
            *((POWER_LINE,) if has_line else ()),
        ),
        north=north_words(farm, bounds, options),
        bounds=bounds,
        notes_title="To know and to check",
        notes_apart=True,
        notes_more=f"see {SEE}",
        key_first=partial(planting_key_part, plan, picture),
        more_parts=lambda type_, metres: (
            Part(DETAIL, lambda wide, high: detail_box(plan, type_, wide, high, metres), 1),
        ),
    )


def _where(farm: Farm, plan: PlantingPlan) -> str:
    stretch = plan.stretch
    banks = " and ".join(stretch.banks) + (" bank" if len(stretch.banks) == 1 else " banks")
    part = ""
    if stretch.from_m is not None and stretch.to_m is not None:
        part = f", {stretch.from_m:,.0f} to {stretch.to_m:,.0f} m from its top"
    return f"{farm.settings.name}: planting along the {banks} of {stretch.creek}{part}"


def _drawn(sheet: Sheet, plan: PlantingPlan, picture: PlantingPicture, look: Theme) -> Sheet:
    """Put the planting on the map of a page, or on the second of two, and the small map into its room."""
    page = sheet.plan
    type_ = page_type(page.paper, look, text_width_mm)
    frame, view = (page.beside[0].frame, page.beside[0].view) if page.beside else (page.frame, page.view)
    upon_map = [*planting_items(plan, picture, view, type_)]
    insets: list[MapOnPage] = []
    for box in (box for box in page.boxes if box.name == DETAIL):
        room = detail_frame(box, type_)
        near = detail_view(plan, *room[2:])
        if near is None:
            continue
        plain = [layer for layer in sheet.scene.layers if not isinstance(layer, LabelLayer)]
        scene = replace(sheet.scene, layers=with_planting(plain, picture, near.metres_per_mm, look))
        upon = [item.moved(*room[:2]) for item in planting_items(plan, picture, near, type_)]
        insets.append(MapOnPage(room, near, scene, tuple(upon), DETAIL))
        upon_map.append(_outline(view, near, type_))
    over = [item.moved(*frame[:2]) for item in upon_map]
    planted = replace(sheet.scene, layers=with_planting(sheet.scene.layers, picture, view.metres_per_mm, look))
    planted = names_clear_of(planted, upon_map, view, type_)
    if page.beside:
        second = [replace(one, over_map=(*over, *one.over_map)) for one in second_maps(page, planted)]
        return replace(sheet, insets=(*second, *insets))
    page = replace(page, over_map=(*over, *page.over_map))
    return replace(sheet, plan=page, scene=planted, insets=tuple(insets))


def _outline(of: View, shown: View, type_: Type) -> Shape:
    """Return where the ground of a small map lies on the large one."""
    west, south, east, north = shown.ground_bounds()
    across, down = (values.tolist() for values in of.to_mm([west, east], [north, south]))
    corners = ((across[0], down[0]), (across[1], down[0]), (across[1], down[1]), (across[0], down[1]))
    return Shape(corners, closed=True, line=type_.theme.ink, line_mm=0.35)


def _messages(made: _Set) -> Iterator[str]:
    page = made.page
    if not page.whole:
        west, south, east, north = made.content.bounds
        metres, (_, _, wide, high) = page.view.metres_per_mm, page.frame
        yield (
            f"At 1:{page.scale} the planting is {(east - west) / metres:.0f} by {(north - south) / metres:.0f} mm and "
            f"the map has room for {wide:.0f} by {high:.0f} mm on {page.paper.name}: only its middle is shown; take "
            "larger paper, or leave the scale out"
        )
    left_out = _short((*page.cut, *(made.second.cut if made.second else ())))
    if left_out:
        yield (
            f"There is no room for all of {listed(left_out)} on {page.paper.name}, and the page says what is left out; "
            "larger paper has more room"
        )
