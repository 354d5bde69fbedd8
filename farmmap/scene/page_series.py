"""What pages of a series say: where the next ones lie, what stands in a block, and where every page lies."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import EMPTY, shown
from farmmap.scene.page_items import Disc, Item, Shape, Text, Type
from farmmap.scene.page_tables import PageTable
from farmmap.scene.view import Bounds, Floats, View

SIDES = ("east", "north", "west", "south")
ARROWS = {"east": "→", "north": "↑", "west": "←", "south": "↓"}
FIGURES = (
    "gross_area_ha",
    "net_area_ha",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "mean_height_m",
    "top_height_m",
    "crown_cover_percent",
)
"""Figures of a block on its page."""

OVERLAP = 0.06
"""Share of a sheet's width and height that is on the next sheet of a grid, too."""

INSET_MM = 1.2


@dataclass(frozen=True)
class Neighbour:
    """The page of what lies beyond a side of a map.

    Attributes
    ----------
    side : str
        One of `SIDES`.
    page : int
        Its number.
    words : str
        What it is called; "" where its number says enough.
    """

    side: str
    page: int
    words: str = ""


@dataclass(frozen=True)
class Cell:
    """A sheet of a grid, counted from the upper left; bounds on the ground. [grid m]."""

    row: int
    column: int
    bounds: Bounds


def grid_of(whole: Bounds, across_m: float, down_m: float) -> list[Cell]:
    """Return sheets of one size that cover a farm and lie in its middle, from the upper left, row by row.

    Sheets of a single row show no more ground down than the farm has, those of a single column no more across.

    Parameters
    ----------
    whole : tuple of float
        The farm. [grid m]
    across_m, down_m : float
        Ground that a sheet shows; neighbours share `OVERLAP` of it. [grid m]
    """
    west, south, east, north = whole
    step_x, step_y = across_m * (1 - OVERLAP), down_m * (1 - OVERLAP)
    columns = max(math.ceil((east - west - across_m * OVERLAP) / step_x - 1e-9), 1)
    rows = max(math.ceil((north - south - down_m * OVERLAP) / step_y - 1e-9), 1)
    left = (west + east) / 2 - ((columns - 1) * step_x + across_m) / 2
    top = (south + north) / 2 + ((rows - 1) * step_y + down_m) / 2
    if rows == 1 and north - south < down_m:
        top, down_m = north, north - south
    if columns == 1 and east - west < across_m:
        left, across_m = west, east - west
    return [
        Cell(row, column, (x, y - down_m, x + across_m, y))
        for row in range(rows)
        for column in range(columns)
        for x, y in [(left + column * step_x, top - row * step_y)]
    ]


def neighbours_in_grid(pages: Mapping[tuple[int, int], int], row: int, column: int) -> tuple[Neighbour, ...]:
    """Return the pages at the four sides of a sheet, given the page of each row and column."""
    beside = {"east": (row, column + 1), "north": (row - 1, column), "west": (row, column - 1),
              "south": (row + 1, column)}  # fmt: skip
    return tuple(Neighbour(side, pages[place]) for side, place in beside.items() if place in pages)


def neighbours_of_blocks(boxes: Floats, names: Sequence[str], first: int) -> list[tuple[Neighbour, ...]]:
    """Return for each block the nearest one to each side, by the middles of the blocks.

    Parameters
    ----------
    boxes : ndarray, shape (n, 4)
        West, south, east and north of each block. [grid m]
    names : sequence of str
        Their names.
    first : int
        Page of the first block.
    """
    x, y = (boxes[:, 0] + boxes[:, 2]) / 2, (boxes[:, 1] + boxes[:, 3]) / 2
    made: list[tuple[Neighbour, ...]] = []
    for place in range(len(names)):
        away = np.hypot(x - x[place], y - y[place])
        quarter = np.round(np.arctan2(y - y[place], x - x[place]) / (np.pi / 2)).astype(int) % 4
        found: list[Neighbour] = []
        for number, side in enumerate(SIDES):
            there = np.flatnonzero((quarter == number) & (away > 0))
            if len(there):
                nearest = int(there[np.argmin(away[there])])
                found.append(Neighbour(side, first + nearest, names[nearest]))
        made.append(tuple(found))
    return made


def neighbour_signs(
    neighbours: Sequence[Neighbour], frame: tuple[float, float, float, float], type_: Type
) -> list[Item]:
    """Return what stands at the edges of a map, within its frame: the page of what lies beyond. [mm]."""
    left, top, wide, high = frame
    style, pad = type_.style(6.6, "semibold"), 0.9 * type_.times
    items: list[Item] = []
    for one in neighbours:
        pieces = [f"{ARROWS[one.side]} page {one.page}", one.words]
        across = one.side in {"north", "south"}
        room = (0.7 * wide if across else 0.5 * high) - 2 * pad
        words = "  ".join(piece for piece in pieces if piece)
        words = words if type_.width(words, style) <= room else pieces[0]
        long, deep = type_.width(words, style) + 2 * pad, style.size_mm * 1.35
        size = (long, deep) if across else (deep, long)
        x = {"west": left + INSET_MM, "east": left + wide - INSET_MM - size[0]}.get(
            one.side, left + (wide - size[0]) / 2
        )
        y = {"north": top + INSET_MM, "south": top + high - INSET_MM - size[1]}.get(
            one.side, top + (high - size[1]) / 2
        )
        corners = ((x, y), (x + size[0], y), (x + size[0], y + size[1]), (x, y + size[1]))
        items.append(Shape(corners, closed=True, line=type_.theme.faint, line_mm=0.15, fill=type_.theme.inside))
        if across:
            items.append(Text(x + size[0] / 2, y + deep * 0.74, words, style, "middle"))
        else:
            turned = words.replace("→", "↓").replace("←", "↑")  # as they read upwards
            items.append(Text(x + deep * 0.74, y + size[1] / 2, turned, style, "middle", upright=False))
    return items


def frame_with_number(number: int, ground: Bounds, view: View, type_: Type) -> list[Item]:
    """Return the frame of a page on the map of all, its number in the upper left corner; from the map's. [mm]."""
    west, south, east, north = ground
    across, down = (values.tolist() for values in view.to_mm([west, east], [north, south]))
    left, right = (min(max(end, 0.0), view.width_mm) for end in across)
    top, bottom = (min(max(end, 0.0), view.height_mm) for end in down)
    style = type_.style(8.0, "bold")
    wide = max(type_.width(str(number), style) * 1.35, style.size_mm * 1.35)
    x, y = left + 0.5 * wide + 0.6, top + 0.5 * wide + 0.6
    ink, ground_fill = type_.theme.ink, type_.theme.inside
    corners = ((left, top), (right, top), (right, bottom), (left, bottom))
    return [
        Shape(corners, closed=True, line=ink, line_mm=0.3),
        Disc(x, y, wide, ink, 0.25, ground_fill),
        Text(x, y + style.size_mm * 0.35, str(number), style, "middle"),
    ]


def page_figures(row: Mapping[str, object]) -> PageTable:
    """Return the figures of one block, one below the other."""
    cells = []
    for name in FIGURES:
        value = shown(name, row.get(name))
        if value != EMPTY:
            figure = CATALOGUE[name]
            cells.append((figure.title, f"{value} {figure.unit}".strip()))
    return PageTable("figures", "Figures of this block", (("Figure",), ("Value",)), 1, tuple(cells), "figure",
                     "figures", "farmmap figures --of blocks", FIGURES)  # fmt: skip


def species_table(row: Mapping[str, object]) -> PageTable | None:
    """Return the species of one block, the commonest first; None if none stand in it."""
    species = row.get("species")
    if not isinstance(species, list) or not species:
        return None
    columns = ("stems", "stems_per_ha", "basal_area_m2_per_ha")
    heads = tuple((*CATALOGUE[name].heading.split(), CATALOGUE[name].unit) for name in columns)
    cells = tuple((str(one["species"]), *(shown(name, one[name]) for name in columns)) for one in species)
    return PageTable("species", "Species of this block", (("Species",), *heads), 1, cells, "species", "species",
                     "farmmap figures --of blocks", columns)  # fmt: skip


def page_list(titles: Sequence[str], first: int) -> PageTable:
    """Return the table of what is on which page."""
    cells = tuple((title, str(number)) for number, title in enumerate(titles, first))
    return PageTable("pages", "Pages", (("Map",), ("Page",)), 1, cells, "page", "pages", "the bookmarks of this file")
