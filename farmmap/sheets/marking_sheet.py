"""Field sheet of a thinning: the block's map with numbered marks, and the list of them to be ticked off."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np

from farmmap.drawing.fonts import text_width_mm
from farmmap.errors import BadInput
from farmmap.farm.day_words import in_words
from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TREES
from farmmap.figures.grounds import grounds
from farmmap.plans.thinning.marking_list import MarkingList, marking_list
from farmmap.plans.thinning.result import CROP, TAKE, Thinning
from farmmap.scene.backdrops import NONE, find_backdrops
from farmmap.scene.build import build_scene
from farmmap.scene.page_marking import marking_pages, numbers_on_map, thinning_table
from farmmap.scene.page_plan import farm_within
from farmmap.scene.paper import TIMES_A4
from farmmap.scene.scene import KeyEntry, LabelLayer, Scene
from farmmap.scene.sheet_layout import DOT, Content, PagePlan, page_type
from farmmap.scene.styles import theme, with_text
from farmmap.scene.view import Bounds
from farmmap.sheets.page import Sheet, SheetOptions
from farmmap.sheets.page_words import (
    NOT_A_SURVEY,
    POWER_LINE,
    SAID_IN_WORDS,
    check_scale,
    north_words,
    not_shown,
    under_the_map,
)
from farmmap.sheets.settling import settled, wider
from farmmap.sheets.sheet import best_page, papers_of
from farmmap.sheets.write import write_sheet

HOW_TO = (
    "Numbers on the map are those of the list on the next page, in walking order: bold where the tree is to be taken "
    "out. Look at each tree before it is marked with paint; where the map is wrong, believe the tree. The list gives "
    "the way to the next tree, its bearing from {north}."
)


def write_marking_sheet(farm: Farm, thinning: Thinning, path: Path | str, options: SheetOptions | None = None) -> Sheet:
    """Write the field sheet of a thinning as PDF or PNG, and return it.

    Parameters
    ----------
    farm, thinning, options
        As for `compose_marking`.
    path : Path or str
        Ends in ``.pdf`` or ``.png``.

    Raises
    ------
    BadInput
        No tree is marked, the paper or scale cannot be used, or it cannot be written there.
    """
    sheet = compose_marking(farm, thinning, options)
    write_sheet(sheet, path)
    return sheet


def compose_marking(farm: Farm, thinning: Thinning, options: SheetOptions | None = None) -> Sheet:
    """Return the field sheet of a thinning: a map page, and as many pages of the list as it takes.

    Parameters
    ----------
    farm : Farm
        The farm that the thinning was made for.
    thinning : Thinning
        The thinning; it need not be in the farm.
    options : SheetOptions, optional
        Paper, scale and title; without a scale, the largest round one that shows the whole block.

    Raises
    ------
    BadInput
        No tree is marked, or the paper or scale cannot be used.
    """
    options = options or SheetOptions()
    check_scale(options.scale)
    papers = papers_of(options)
    listed = marking_list(farm, thinning)
    if not len(listed):
        raise BadInput(f"no tree of {thinning.name} is marked, so there is no sheet to print")
    bounds = _bounds(farm, thinning.block, listed)
    look = with_text(theme("paper"), TIMES_A4[papers[0].name])
    backdrops = NONE if options.folder is None else find_backdrops(farm, options.folder)
    hidden = options.hidden | {"crowns"}
    title = options.title or f"Thinning of {thinning.name}"

    def made(shown: Bounds) -> tuple[PagePlan, Scene]:
        local = _with_marks(farm_within(farm, shown), thinning)
        scene = build_scene(local, thinning.on, theme=look, hidden=hidden, margins=(), backdrops=backdrops)
        has_line = bool((local.hazards["kind"] == "power line").any())
        content = _content(farm, thinning, listed, scene, bounds, title, options, has_line=has_line)
        return best_page(papers, content, options.scale), scene

    page, scene = settled(made, lambda both: both[0], wider(bounds))
    type_ = page_type(page.paper, theme("paper"), text_width_mm)
    numbers, left_out = numbers_on_map(listed, page.view, type_)
    over = tuple(item.moved(*page.frame[:2]) for item in numbers)
    scene = replace(scene, layers=tuple(layer for layer in scene.layers if not isinstance(layer, LabelLayer)))
    pages = marking_pages(page.paper, title, listed, type_)
    messages = [*not_shown(backdrops, options.hidden)]
    if left_out:
        messages.append(
            f"{left_out} of {len(listed)} numbers have no room on the map: take larger paper or a larger scale"
        )
    if not page.whole:
        messages.append("At this scale only the middle of the block is shown; take larger paper, or give no scale")
    page = replace(page, over_map=(*over, *page.over_map))
    return Sheet(title, farm.settings.name, page, scene, tuple(messages), second=pages[0], further=pages[1:])


def _content(
    farm: Farm,
    thinning: Thinning,
    listed: MarkingList,
    scene: Scene,
    bounds: Bounds,
    title: str,
    options: SheetOptions,
    *,
    has_line: bool,
) -> Content:
    printed = options.printed_on or dt.datetime.now().astimezone().date()
    takes, crop = int((listed.mark == TAKE).sum()), int((listed.mark == CROP).sum())
    walk = f"{listed.walk_m:,.0f}".replace(",", "\u202f")
    counts = f"{takes} to take out, {crop} crop trees, {walk} m to walk"
    how_to = HOW_TO.format(north="the north of the map" if farm.grid.local else "true north")
    return Content(
        title=title,
        subtitle=DOT.join((f"{farm.settings.name}: {thinning.words}", counts, f"printed {in_words(printed)}")),
        key=_key(scene),
        tables=(thinning_table(thinning.table),),
        notes=tuple(thinning.notes),
        essential=" ".join((how_to, *under_the_map(scene))),
        cautions=(*thinning.cautions, NOT_A_SURVEY, *((POWER_LINE,) if has_line else ())),
        north=north_words(farm, bounds),
        bounds=bounds,
        notes_title="In the field",
    )


def _key(scene: Scene) -> tuple[KeyEntry, ...]:
    """Return the key without stem sizes and what was not measured, as all stems are drawn alike."""
    return tuple(
        replace(entry, layer="trees") if entry.layer.startswith("species:") else entry
        for entry in scene.key
        if entry.layer not in SAID_IN_WORDS and entry.words != "(not measured)"
    )


def _with_marks(farm: Farm, thinning: Thinning) -> Farm:
    """Return the farm with the marks of the thinning on its trees, and on no others."""
    trees = farm.trees
    ids = trees.index.to_numpy(np.int64)
    order = np.argsort(thinning.ids)
    place = np.minimum(np.searchsorted(thinning.ids, ids, sorter=order), max(len(order) - 1, 0))
    own = thinning.ids[order[place]] == ids if len(order) else np.zeros(len(ids), bool)
    marks = np.full(len(ids), "", object)
    marks[own] = thinning.mark[order[place[own]]]
    columns = {name: trees[name].array for name in trees.columns} | {"mark": marks.tolist()}
    return farm.with_tables(
        trees=shaped(TREES, columns, ids, farm.grid),
        measurements=farm.measurements.iloc[:0],  # stems as large as on other maps would leave no room for the numbers
    )


def _bounds(farm: Farm, block: int, listed: MarkingList) -> Bounds:
    ground = grounds(farm)
    west, south, east, north = ground.bounds[int(np.flatnonzero(ground.ids == block)[0])].tolist()
    return (
        float(min(west, listed.x.min())),
        float(min(south, listed.y.min())),
        float(max(east, listed.x.max())),
        float(max(north, listed.y.max())),
    )
