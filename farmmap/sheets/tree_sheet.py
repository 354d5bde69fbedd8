"""Field sheets of trees: a block's map with a ring or cross and a number at each, and the list of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from farmmap.drawing.fonts import text_width_mm
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TREES
from farmmap.figures.grounds import grounds
from farmmap.plans.walk import bearings_from
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_list import TreeList, numbers_on_map, with_map_pages
from farmmap.scene.page_plan import farm_within
from farmmap.scene.page_tables import PageTable
from farmmap.scene.scene import KeyEntry, LabelLayer, Scene
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

HOW_TO = (
    "Numbers on the map are those of the list on the page {page} it, in walking order. The list gives the way to the "
    "next tree, its bearing from {north}."
)


@dataclass(frozen=True, eq=False)
class FieldTrees:
    """Numbered trees of a block and what a sheet says of them. Arrays have shape (n,), in the order of the numbers.

    Attributes
    ----------
    title : str
        Title of the sheet.
    block : int
        Id of the block.
    on : date
        Day whose trees the map shows.
    ids : ndarray of int64
        Ids of the trees.
    marks : ndarray of object
        Marks that stand for them on the map: ``crop`` a ring, ``take`` a cross.
    x, y : ndarray
        Where they stand. [grid m]
    listed : TreeList
        The list of them; numbers of rows that stand out are bold on the map, too.
    said : tuple of str
        What stands under the title, besides the day of printing.
    tables : tuple of PageTable
        Tables beside the map.
    how_to : str
        What to do with it, before what is said of numbers on every such sheet.
    notes, cautions : tuple of str
        What else is to be known.
    key_words : mapping of str to str
        What the key says instead of its own words.
    map_second : bool
        Whether the map is the second page, on the back of the first one of the list.
    """

    title: str
    block: int
    on: dt.date
    ids: NDArray[np.int64]
    marks: NDArray[np.object_]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    listed: TreeList
    said: tuple[str, ...]
    tables: tuple[PageTable, ...]
    how_to: str
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    key_words: Mapping[str, str] = field(default_factory=dict)
    map_second: bool = False


def compose_trees(farm: Farm, trees: FieldTrees, options: SheetOptions) -> Sheet:
    """Return the field sheet of some trees: a map page, and as many pages of the list as it takes.

    Parameters
    ----------
    farm : Farm
        The farm.
    trees : FieldTrees
        The trees, at least one.
    options : SheetOptions
        Paper, scale and title; without a scale, the largest round one that shows the whole block.

    Raises
    ------
    BadInput
        The paper or scale cannot be used.
    """
    check_scale(options.scale)
    papers = field_papers(options, trees.listed.least_mm, upright=trees.map_second)
    bounds = _bounds(farm, trees)
    look = look_of(options)
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    hidden = options.hidden | {"crowns"}
    title = options.title or trees.title

    def made(shown: Bounds) -> tuple[OnPages, Scene]:
        local = _with_marks(farm_within(farm, shown), trees)
        scene = build_scene(local, trees.on, theme=look, hidden=hidden, margins=(), backdrops=backdrops)
        has_line = bool((local.hazards["kind"] == "power line").any())
        content = _content(farm, trees, scene, bounds, title, options, has_line=has_line)
        return field_page(papers, with_choices(content, farm, options), options.scale, look), scene

    pages_of_map, scene = settled(made, lambda both: both[0].plan, wider(bounds))
    page = pages_of_map.plan
    type_ = page_type(page.paper, look, text_width_mm)
    numbers, left_out = numbers_on_map(trees.x, trees.y, np.array(trees.listed.bold, bool), page.view, type_)
    over = tuple(item.moved(*page.frame[:2]) for item in numbers)
    scene = replace(scene, layers=tuple(layer for layer in scene.layers if not isinstance(layer, LabelLayer)))
    pages = with_map_pages(page.paper, title, trees.listed, type_, pages_of_map.further, map_second=trees.map_second)
    messages = [*page.amiss, *not_shown(backdrops, options.hidden)]
    if left_out:
        messages.append(
            f"{left_out} of {len(trees.ids)} numbers have no room on the map: take larger paper or a larger scale"
        )
    if not page.whole:
        messages.append("At this scale only the middle of the block is shown; take larger paper, or give no scale")
    page = replace(page, over_map=(*over, *page.over_map))
    return Sheet(
        title, farm, page, scene, tuple(messages), second=pages[0], further=pages[1:], map_second=trees.map_second
    )


def _content(
    farm: Farm, trees: FieldTrees, scene: Scene, bounds: Bounds, title: str, options: SheetOptions, *, has_line: bool
) -> Content:
    printed = printed_on(options)
    how_to = HOW_TO.format(page="before" if trees.map_second else "after", north=bearings_from(farm.grid))
    return Content(
        title=title,
        subtitle=DOT.join((*trees.said, f"printed {in_words(printed)}")),
        key=_key(scene, trees.key_words),
        tables=trees.tables,
        notes=trees.notes,
        essential=" ".join((trees.how_to, how_to, *under_the_map(scene))),
        cautions=(*trees.cautions, NOT_A_SURVEY, *((POWER_LINE,) if has_line else ())),
        north=north_words(farm, bounds, options, true_bearings=True),
        bounds=bounds,
        notes_title="In the field",
    )


def _key(scene: Scene, words: Mapping[str, str]) -> tuple[KeyEntry, ...]:
    """Return the key without stem sizes and what was not measured, as all stems are drawn alike."""
    return tuple(
        replace(
            entry,
            layer="trees" if entry.layer.startswith("species:") else entry.layer,
            words=words.get(entry.words, entry.words),
        )
        for entry in scene.key
        if entry.layer not in SAID_IN_WORDS and entry.words != "(not measured)"
    )


def _with_marks(farm: Farm, listed: FieldTrees) -> Farm:
    """Return the farm with the marks of the listed trees, and no others."""
    trees = farm.trees
    ids = trees.index.to_numpy(np.int64)
    order = np.argsort(listed.ids)
    place = np.minimum(np.searchsorted(listed.ids, ids, sorter=order), len(order) - 1)
    own = listed.ids[order[place]] == ids
    marks = np.full(len(ids), "", object)
    marks[own] = listed.marks[order[place[own]]]
    columns = {name: trees[name].array for name in trees.columns} | {"mark": marks.tolist()}
    return farm.with_tables(
        trees=shaped(TREES, columns, ids, farm.grid),
        measurements=farm.measurements.iloc[:0],  # stems as large as on other maps would leave no room for the numbers
    )


def _bounds(farm: Farm, trees: FieldTrees) -> Bounds:
    ground = grounds(farm)
    west, south, east, north = ground.bounds[int(np.flatnonzero(ground.ids == trees.block)[0])].tolist()
    return (
        float(min(west, trees.x.min())),
        float(min(south, trees.y.min())),
        float(max(east, trees.x.max())),
        float(max(north, trees.y.max())),
    )
