"""A series of map pages over a farm, a page for each block or a grid of sheets, with a page that shows them all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import shapely

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.margins import margins as margins_of
from farmmap.figures.standing import is_ahead, the_day
from farmmap.progress import listener
from farmmap.scene.backdrops import NONE, Backdrops, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_plan import farm_within
from farmmap.scene.page_series import (
    Cell,
    Neighbour,
    frame_with_number,
    grid_of,
    neighbour_signs,
    neighbours_in_grid,
    neighbours_of_blocks,
    page_figures,
    page_list,
    species_table,
)
from farmmap.scene.page_tables import PageTable
from farmmap.scene.paper import Paper
from farmmap.scene.scales import round_scale
from farmmap.scene.scene import KeyEntry, Scene
from farmmap.scene.sheet_layout import DOT, Content, PagePlan, page_type
from farmmap.scene.styles import Theme
from farmmap.scene.view import Bounds
from farmmap.sheets.asked import best_page, look_of, papers_of, with_choices
from farmmap.sheets.overview import overviews, with_overview
from farmmap.sheets.page import Bookmark, Document, MapOnPage, Page, Sheet, SheetOptions
from farmmap.sheets.page_words import (
    NOT_A_SURVEY,
    POWER_LINE,
    SAID_IN_WORDS,
    check_scale,
    north_words,
    printed_on,
    under_the_map,
)
from farmmap.sheets.settling import MOST_ROUNDS, settled, wider
from farmmap.sheets.sheet import compose

MOST_PAGES = 500
USUAL_GRID = 12
"""A grid without a scale of its own takes about so many sheets at most."""

SERIES = ("blocks", "grid")
"""What a page is made for."""


@dataclass(frozen=True)
class _Wanted:
    """A page that is to be made, at a scale of its own if it has one."""

    title: str
    bounds: Bounds
    block: int | None
    neighbours: tuple[Neighbour, ...]
    scale: int | None


@dataclass(frozen=True, eq=False)
class _Setting:
    """What all pages have in common."""

    farm: Farm
    day: dt.date
    options: SheetOptions
    papers: list[Paper]
    look: Theme
    backdrops: Backdrops
    scene: Scene
    whole: Bounds


def compose_series(
    farm: Farm, on: dt.date | None = None, options: SheetOptions | None = None, of: str = "blocks"
) -> Document:
    """Return a page for each block, or for each sheet of a grid over the farm, after a page that shows where they lie.

    Parameters
    ----------
    farm : Farm
        The farm.
    on : date, optional
        The day; that of the newest measurement if not given.
    options : SheetOptions, optional
        Paper, scale and look. Without a scale each block is as large as its page allows, and a grid has about twelve
        sheets at most.
    of : str
        ``blocks`` or ``grid``.

    Raises
    ------
    BadInput
        There are no blocks, there would be too many pages, or a page cannot be as asked.
    """
    options = options or SheetOptions()
    check_scale(options.scale)
    if of not in SERIES:
        raise BadInput(f"a series of pages is made of {' or '.join(SERIES)}, not of '{of}'")
    if options.moved or options.beside:
        raise BadInput("pages of a series are arranged by farmmap, with one map each; print one page to arrange it")
    whole = farm.bounds()
    if whole is None:
        raise BadInput(f"nothing is drawn on {farm.settings.name} yet, so there is no map to print")
    day, look = the_day(farm, on), look_of(options)
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    scene = build_scene(farm, day, theme=look, hidden=options.hidden, backdrops=backdrops)
    setting = _Setting(farm, day, options, papers_of(options), look, backdrops, scene, whole)
    if of == "blocks":
        wanted = _blocks(farm, options.scale)
        setting = _one_way(setting, _of_middle_shape(wanted))
    else:
        first = _Wanted("Sheet 1", whole, None, (), options.scale)
        setting = _one_way(setting, first)
        wanted = _grid(setting)
    if len(wanted) > MOST_PAGES:
        raise BadInput(f"that would be {len(wanted):,} pages; take a smaller scale, or larger paper")
    index = _index(setting, wanted)
    before = len(index.pages)
    count = before + len(wanted)
    made = []
    for place, one in enumerate(wanted):
        number = before + 1 + place
        listener().step(place, len(wanted), f"setting page {number} of {count}")
        made.append(_page(setting, one, number, count, before - 1))
    about = f"Maps of {farm.settings.name}, {count} pages"
    pages = (*_marked(setting, index, [page.maps[0] for page in made]), *made)
    return Document(options.title or farm.settings.name, about, farm, pages, author=options.credits)


def _one_way(setting: _Setting, one: _Wanted) -> _Setting:
    """Return the setting with the paper lying for all pages as it does for one of them."""
    if len(setting.papers) == 1:
        return setting
    return replace(setting, papers=[_planned(setting, one, one.bounds, 2, 2).paper])


def _of_middle_shape(wanted: Sequence[_Wanted]) -> _Wanted:
    """Return the page whose ground is neither very wide nor very high among all."""

    def shape(one: _Wanted) -> float:
        west, south, east, north = one.bounds
        return (east - west) / max(north - south, 1e-3)

    return sorted(wanted, key=shape)[len(wanted) // 2]


def _blocks(farm: Farm, scale: int | None) -> list[_Wanted]:
    drawn = farm.blocks[~(farm.blocks.geometry.isna() | farm.blocks.geometry.is_empty)]
    if not len(drawn):
        raise BadInput(f"no blocks are drawn on {farm.settings.name} yet, so there are no pages of blocks; draw one")
    boxes = shapely.bounds(drawn.geometry.to_numpy())
    names = [str(name) or "Block without a name" for name in drawn["name"]]
    beside = neighbours_of_blocks(boxes, names, first=2)
    return [
        _Wanted(name, (box[0], box[1], box[2], box[3]), int(block), near, scale)
        for block, name, box, near in zip(drawn.index, names, boxes.tolist(), beside, strict=True)
    ]


def _grid(setting: _Setting) -> list[_Wanted]:
    """Sheets of one scale side by side, without those on which nothing of the farm lies."""
    ground = shapely.union_all([shapely.box(*box) for box in _things(setting.farm)])
    scale = setting.options.scale or _grid_scale(setting, ground)
    trial = _planned(setting, _Wanted("Sheet 1", setting.whole, None, (), scale), setting.whole, 2, 2)
    cells = _cells(setting, ground, trial, scale)
    pages = {(cell.row, cell.column): number for number, cell in enumerate(cells, 2)}
    return [
        _Wanted(f"Sheet {number}", cell.bounds, None, neighbours_in_grid(pages, cell.row, cell.column), scale)
        for number, cell in enumerate(cells, 1)
    ]


def _cells(setting: _Setting, ground: shapely.Geometry, trial: PagePlan, scale: int) -> list[Cell]:
    across, down = (side * scale / 1000 for side in trial.frame[2:])
    return [
        cell for cell in grid_of(setting.whole, across, down) if shapely.intersects(ground, shapely.box(*cell.bounds))
    ]


def _things(farm: Farm) -> list[Bounds]:
    """Return the ground that a farm covers as rectangles: of its boundary or blocks, else all of it."""
    for table in ("boundary", "blocks"):
        shapes = farm.tables[table].geometry.to_numpy()
        boxes = shapely.bounds(shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))])
        if len(boxes):
            return [(box[0], box[1], box[2], box[3]) for box in boxes.tolist()]
    bounds = farm.bounds()
    return [bounds] if bounds is not None else []


def _grid_scale(setting: _Setting, ground: shapely.Geometry) -> int:
    """Return the largest round scale at which a grid has no more sheets than is usual."""
    one = _planned(setting, _Wanted("Sheet 1", setting.whole, None, (), None), setting.whole, 2, 2)
    scale = round_scale(max(one.scale / USUAL_GRID, 100.0))
    while scale < one.scale and len(_cells(setting, ground, one, scale)) > USUAL_GRID:
        scale = round_scale(scale * 1.01)
    return min(scale, one.scale)


def _page(setting: _Setting, one: _Wanted, number: int, count: int, later: int) -> Page:
    """Return a page; its neighbours have numbers so much higher than if the index had one page."""
    plan = settled(
        lambda ground: _planned(setting, one, ground, number, count), lambda page: page, wider(one.bounds, 0.4)
    )
    type_ = page_type(plan.paper, setting.look, text_width_mm)
    beside = [replace(near, page=near.page + later) for near in one.neighbours]
    signs = neighbour_signs(beside, plan.frame, type_)
    large = MapOnPage(plan.frame, plan.view, setting.scene, (*plan.over_map, *signs))
    small = overviews(setting.farm, setting.day, plan, [plan.view], setting.look, setting.whole)
    return Page(plan.paper, setting.look, (large, *small), plan.boxes, (Bookmark(one.title),))


def _planned(setting: _Setting, one: _Wanted, ground: Bounds, number: int, count: int) -> PagePlan:
    """Return a page whose key tells of what lies within some ground."""
    content = _content(setting, one, ground, number, count)
    return best_page(setting.papers, content, one.scale, setting.look)


def _content(setting: _Setting, one: _Wanted, ground: Bounds, number: int, count: int) -> Content:
    farm, options, day = setting.farm, setting.options, setting.day
    local = farm_within(farm, ground)
    has_line = bool((local.hazards["kind"] == "power line").any())
    as_of = "forecast for" if is_ahead(farm, day) else "as of"
    said = (
        options.title or farm.settings.name,
        f"page {number} of {count}",
        f"trees and figures {as_of} {in_words(day)}",
        f"printed {in_words(printed_on(options))}",
    )
    content = Content(
        title=one.title,
        subtitle=DOT.join(said),
        key=_key(setting, local, ground),
        tables=_tables(farm, day, one.block),
        notes=(),
        essential=" ".join(under_the_map(setting.scene)),
        cautions=(NOT_A_SURVEY, *((POWER_LINE,) if has_line else ())),
        north=north_words(farm, one.bounds, options),
        bounds=one.bounds,
        notes_title="About this map",
    )
    content = with_choices(content, farm, options)
    return content if options.overview is False else with_overview(content, setting.whole, options)


def _tables(farm: Farm, day: dt.date, block: int | None) -> tuple[PageTable, ...]:
    """Return the figures of a block, and its species."""
    figures = block_figures(farm, day)
    if block is None or block not in figures.ids:
        return ()
    row = figures.rows[figures.ids.index(block)]
    species = species_table(row)
    return (page_figures(row), *((species,) if species else ()))


def _key(setting: _Setting, local: Farm, ground: Bounds) -> tuple[KeyEntry, ...]:
    """Return the lines of the whole key that tell of what lies within some ground, with the trees counted there."""
    box = shapely.box(*ground)
    margins = [margin for margin in margins_of(setting.farm) if shapely.intersects(margin.polygon, box)]
    scene = build_scene(
        local,
        setting.day,
        theme=setting.look,
        hidden=setting.options.hidden,
        margins=margins,
        backdrops=setting.backdrops,
    )
    there = {(entry.layer, entry.words): entry.count for entry in scene.key}
    return tuple(
        replace(entry, count=there[entry.layer, entry.words])
        for entry in setting.scene.key
        if (entry.layer, entry.words) in there and entry.layer not in SAID_IN_WORDS
    )


def _index(setting: _Setting, wanted: Sequence[_Wanted]) -> Sheet:
    """Return the page that lists all others, with what has no room on it on the next."""
    ways = {paper.width_mm > paper.height_mm for paper in setting.papers}
    landscape = ways.pop() if len(ways) == 1 else None
    options = replace(setting.options, landscape=landscape, scale=None, overview=False, photos=False)
    before = 1
    for _ in range(MOST_ROUNDS):
        listed = page_list([one.title for one in wanted], before + 1)
        change = partial(_with_list, listed, f"page 1 of {before + len(wanted)}")
        sheet = compose(setting.farm, setting.day, options, change=change)
        if len(sheet.pages) == before:
            break
        before = len(sheet.pages)
    return sheet


def _with_list(listed: PageTable, of: str, content: Content) -> Content:
    return replace(content, subtitle=DOT.join((of, content.subtitle)), tables=(listed, *content.tables))


def _marked(setting: _Setting, index: Sheet, maps: Sequence[MapOnPage]) -> tuple[Page, ...]:
    """Return the pages of the index with the frames of the others on its map."""
    first, *further = index.pages
    large, *others = first.maps
    type_ = page_type(first.paper, setting.look, text_width_mm)
    frames = [
        item.moved(*large.frame[:2])
        for number, one in enumerate(maps, len(index.pages) + 1)
        for item in frame_with_number(number, one.view.ground_bounds(), large.view, type_)
    ]
    marked = replace(large, over_map=(*frames, *large.over_map))
    return (replace(first, maps=(marked, *others), bookmarks=(Bookmark("All maps"),)), *further)
