"""What is pruned so far: a row a block, and the stems of the block that is chosen by height."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from PySide6.QtWidgets import QWidget

from farmmap.farm.farm import Farm
from farmmap.panels.chart import Bar, BarChart, number
from farmmap.panels.registry import Options, Panel
from farmmap.panels.table_view import FigureTableView
from farmmap.scene.scene import Chosen


class PrunedPage(FigureTableView):
    """Shares, next visit, knotty core and clear wood by block, with a chart of the heights beneath."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(Panel(panel.name, panel.reads, panel.work_out, rows_are="block"), parent)
        self.heights = BarChart("Pruned heights", "Pruned to, m", "Share of the stems, %")
        self._chosen: Chosen | None = None
        self.column.setContentsMargins(0, 4, 0, 0)
        self.column.insertWidget(self.column.indexOf(self.choices), self.heights, 3)
        self.working.button.toggled.connect(lambda shown: self.heights.setVisible(not shown))

    def show_farm(self, farm: Farm, options: Options) -> None:
        """Show what is pruned on a day; it was made ready in the background."""
        from farmmap.plans.pruning.shares import pruning_by_block

        self._chosen = options.chosen
        self.show_figures(farm, options, pruning_by_block(farm, options.on))
        self._show_heights()

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Show the heights of the block that was chosen."""
        super().show_chosen(chosen)
        self._chosen = chosen
        self._show_heights()

    def _show_heights(self) -> None:
        table = self.model.table
        if table is None:
            return
        rows = list(table.rows)
        of = "all blocks"
        if self._chosen is not None and self._chosen.kind == "block":
            row = table.row_of(self._chosen.id)
            if row is not None:
                rows, of = [row], str(row["name"])
        bars, pruned, stems = height_bars(rows)
        counts = f"{pruned:,} of {stems:,} stems".replace(",", "\u202f")
        self.heights.show_bars(f"Pruned heights, {of}: {counts}", bars, "No tree is down as pruned by this date.")


def height_bars(rows: list[Mapping[str, object]]) -> tuple[list[Bar], int, int]:
    """Return a bar for each metre of pruned height, how many trees are pruned, and how many stand.

    Parameters
    ----------
    rows : list of mapping
        Rows of `farmmap.plans.pruning.shares.pruning_by_block`. Trees that are not pruned have no bar.
    """
    stems = sum(int(str(row["stems"])) for row in rows)
    pruned = sum(int(str(row["pruned_trees"])) for row in rows)
    counts: dict[float, int] = {}
    for row in rows:
        for part in cast("list[Mapping[str, Any]]", row["pruned_heights"]):
            counts[float(part["from_m"])] = counts.get(float(part["from_m"]), 0) + int(part["trees"])
    counts[0.0] = counts.get(0.0, 0) - (stems - pruned)
    if not pruned:
        return [], 0, stems
    bars = []
    for low in sorted(counts):
        share = 100 * counts[low] / stems
        words = f"{number(low)} to {number(low + 1)} m: {counts[low]} trees, {share:.0f} %"
        bars.append(Bar(low, low + 1, share, words))
    return bars, pruned, stems
