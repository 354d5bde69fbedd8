"""Tables of what stands: the farm, its blocks, their species, and its creek margins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import zip_longest

import numpy as np

from farmmap.figures.catalogue import CATALOGUE
from farmmap.figures.result import shown
from farmmap.sheets.pack.context import BEFORE, MARGIN_YEARS, PackContext
from farmmap.sheets.pack.pack_table import Column, PackTable, figure_column, figure_table

FARM_FIGURES = (
    "boundary_area_ha",
    "blocks",
    "blocks_net_area_ha",
    "stems",
    "species_count",
    "basal_area_m2",
    "margin_area_ha",
    "margin_cover_percent",
    "bank_length_m",
    "bank_fenced_percent",
    "creek_length_m",
    "fence_length_m",
    "track_length_m",
)
BLOCK_FIGURES = (
    "name",
    "net_area_ha",
    "stems",
    "stems_per_ha",
    "basal_area_m2_per_ha",
    "qmd_cm",
    "top_height_m",
    "crown_cover_percent",
)
MARGIN_FIGURES = (
    "creek",
    "bank",
    "area_ha",
    "length_m",
    "mean_width_m",
    "fenced_percent",
    "cover_percent",
    "longest_gap_m",
    "stems",
    "native_percent",
)


GROWN = (
    "Trees and shrubs, each spot counted once, over the whole width of each margin; every new plant is taken to live, "
    "and crowns that stand today stay as they are."
)


def farm_table(pack: PackContext) -> PackTable:
    """Return the figures of the whole farm, one under the other."""
    row = pack.whole.rows[0]
    known = [(CATALOGUE[name], row.get(name)) for name in FARM_FIGURES]
    values = tuple((figure.title, value, figure.unit) for figure, value in known)
    cells = tuple((figure.title, shown(figure.name, value), figure.unit) for figure, value in known)
    columns = (
        Column("figure", ("The whole farm",), words=True, about="What it is."),
        Column("value", ("",), about="Its value."),
        Column("unit", ("",), words=True, about="Its unit.", close=True),
    )
    return PackTable("farm", "", columns, values, in_two(cells), heads=two_heads(columns))


def in_two(cells: Sequence[tuple[str, ...]]) -> tuple[tuple[str, ...], ...]:
    """Return rows set in two columns, one beside the other."""
    half = (len(cells) + 1) // 2
    blank = ("",) * (len(cells[0]) if cells else 0)
    return tuple((*left, *right) for left, right in zip_longest(cells[:half], cells[half:], fillvalue=blank))


def two_heads(columns: tuple[Column, ...]) -> tuple[Column, ...]:
    """Return the columns of a table that is set in two; the second has no words in its head."""
    return (*columns, *(replace(column, head=("",)) for column in columns))


def block_table(pack: PackContext) -> PackTable:
    """Return the blocks."""
    names: tuple[str, ...] = BLOCK_FIGURES
    if "counted" in pack.blocks.brief:
        names = (names[0], "counted", *names[1:])
    title = f"Blocks, diameters at {pack.farm.settings.breast_height_m:.1f} m"
    return figure_table("blocks", title, pack.blocks, names, pack.blocks.notes)


def species_table(pack: PackContext) -> PackTable:
    """Return the species of each block."""
    values: list[tuple[object, ...]] = []
    cells: list[tuple[str, ...]] = []
    begins: list[int] = []
    for row in pack.blocks.rows:
        kinds = row.get("species")
        if not isinstance(kinds, list) or not kinds:
            continue
        begins.append(len(cells))
        for place, kind in enumerate(kinds):
            assert isinstance(kind, Mapping)
            values.append((row["name"], *(kind.get(name) for name in _OF_SPECIES)))
            name = str(row["name"]) if place == 0 else ""
            cells.append((name, *(_species_cell(name, kind.get(name)) for name in _OF_SPECIES)))
    columns = (
        Column("block", ("Block",), words=True, about="Name of the block."),
        Column("species", ("Species",), words=True, about="What it is called."),
        figure_column("stems"),
        figure_column("stems_per_ha"),
        figure_column("basal_area_m2_per_ha"),
        Column("percent", ("Of stems", "%"), about="Share of the block's stems."),
    )
    begins_at = frozenset(begins[1:])
    return PackTable("block_species", "Species of each block", columns, tuple(values), tuple(cells), begins=begins_at)


_OF_SPECIES = ("species", "stems", "stems_per_ha", "basal_area_m2_per_ha", "percent")


def _species_cell(name: str, value: object) -> str:
    if name == "percent" and isinstance(value, float):
        return f"{value:.0f}"
    return shown(name, value) if name in CATALOGUE else str(value or "not known")


def margin_table(pack: PackContext) -> PackTable:
    """Return the creek margins."""
    return figure_table("margins", "Creek margins as they stand", pack.margins, MARGIN_FIGURES, pack.margins.notes)


def grown_margin_table(pack: PackContext) -> PackTable:
    """Return the cover of the creek margins before planting and years after it, and that of all together."""
    covers = pack.margin_covers[list(pack.margins.ids)]
    area = np.array([float(str(row["area_ha"])) for row in pack.margins.rows])
    banks = [(str(row["creek"]), str(row["bank"])) for row in pack.margins.rows]
    numbers = np.column_stack([area, covers])
    values = tuple((*bank, *row) for bank, row in zip(banks, numbers.tolist(), strict=True))
    cells = tuple((*bank, *_hectares_and_covers(row)) for bank, row in zip(banks, numbers, strict=True))
    whole = np.append(area.sum(), area @ covers / (area.sum() or 1.0))
    foot = ("All", "", *_hectares_and_covers(whole)) if len(cells) > 1 else ()
    years = [f"{year:g}" for year in MARGIN_YEARS if year != BEFORE]
    columns = (
        figure_column("creek"),
        figure_column("bank"),
        figure_column("area_ha"),
        Column("before_percent", ("Before", "%"), about="Margin under crowns before planting."),
        *(
            Column(f"after_{year}_years_percent", ("After", f"{year} years", "%"), about=f"{year} years after.")
            for year in years
        ),
    )
    title = "Creek margins before planting and after"
    return PackTable("margins_grown", title, columns, values, cells, foot, notes=(GROWN,))


def _hectares_and_covers(row: np.ndarray) -> tuple[str, ...]:
    area, *covers = row.tolist()
    return (shown("area_ha", area), *(shown("cover_percent", cover) for cover in covers))
