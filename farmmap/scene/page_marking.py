"""Field sheets of a thinning: what it changes, and the list of its marked trees."""

from __future__ import annotations

from collections.abc import Iterator

from farmmap.figures.result import FigureTable, shown
from farmmap.plans.thinning.marking_list import MarkingList
from farmmap.plans.thinning.result import TAKE
from farmmap.scene.page_list import ListColumn, TreeList, number_cell
from farmmap.scene.page_tables import PageTable

LEAST_COLUMN_MM = 58.0
"""A column of the list is no narrower, on A4. [mm]"""

LINE_MM = 5.0
"""Height of a line of the list, on A4. [mm]"""

COLUMNS = (
    ListColumn("", 0.08),
    ListColumn("No", 0.10, "right", bold=True),
    ListColumn("Tag", 0.20),
    ListColumn("Species", 0.12),
    ListColumn("cm", 0.12, "right"),
    ListColumn("Mark", 0.12, bold=True),
    ListColumn("Next m", 0.13, "right"),
    ListColumn("at °", 0.13, "right"),
)

PARTS = (
    ("Stems", "stems"),
    ("Stems /ha", "stems_per_ha"),
    ("Basal area m²/ha", "basal_area_m2_per_ha"),
    ("Quad. mean cm", "qmd_cm"),
    ("Spacing m", "mean_spacing_m"),
    ("Crown cover %", "crown_cover_percent"),
)
"""Figures before, taken and after that are on the sheet."""


def thinning_table(table: FigureTable) -> PageTable:
    """Return before, taken and after as a table of a page, a line a figure."""
    cells = tuple((words, *(shown(key, value) for value in table.column(key))) for words, key in PARTS)
    heads = (("",), ("Before",), ("Taken",), ("After",))
    return PageTable("thinning", "The thinning", heads, 1, cells, "figure", "figures", "farmmap thin")


def marking_rows(listed: MarkingList) -> TreeList:
    """Return the list of the marked trees, in walking order; those to be taken out stand out."""
    rows, bold = tuple(_rows(listed)), tuple((listed.mark == TAKE).tolist())
    return TreeList(COLUMNS, rows, bold, LEAST_COLUMN_MM, LINE_MM)


def _rows(listed: MarkingList) -> Iterator[tuple[str, ...]]:
    for number, (tag, species, dbh, mark, away, bearing) in enumerate(
        zip(
            listed.tag.tolist(), listed.species.tolist(), listed.dbh_cm.tolist(), listed.mark.tolist(),
            listed.to_next_m.tolist(), listed.to_next_deg.tolist(), strict=True,
        ),
        start=1,
    ):  # fmt: skip
        figures = (number_cell(dbh, 1), mark, number_cell(away, 1), number_cell(bearing, 0))
        yield (str(number), tag or "–", species or "–", *figures)
