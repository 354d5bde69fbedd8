"""The Plots panel: what the plots say, laying them out, and typing their counts in, one page each."""

from __future__ import annotations

import re
from pathlib import Path

from PySide6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable, shown
from farmmap.figures.sampling.counts import how_many
from farmmap.figures.sampling.tables import AS_COUNTED, INSIDE_ONLY
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.page_row import PageRow
from farmmap.panels.page_stack import PageStack
from farmmap.panels.panel_view import PanelView
from farmmap.panels.plots.count_page import CountPage
from farmmap.panels.plots.layout_form import LayoutForm
from farmmap.panels.registry import Options, Panel
from farmmap.panels.table_view import FigureTableView
from farmmap.panels.wheel import leave_wheel
from farmmap.plans.sampling.layout import plots_laid_out
from farmmap.scene.scene import Chosen

RESULTS, LAY_OUT, COUNT = range(3)
PAGES = ("Results", "Lay out", "Count")
EDGE_WORDS = {
    AS_COUNTED: "Edge: each tree as noted, 1 or 2",
    INSIDE_ONLY: "Edge: only trees inside, once each",
}
KINDS = {
    "pdf": ("Field sheet (PDF)…", "Field sheet (*.pdf)"),
    "gpx": ("For a GPS or telephone (GPX)…", "Points for a GPS (*.gpx)"),
    "csv": ("As a table (CSV)…", "Table (*.csv)"),
}
"""How plots are handed out: the ending, the words of the menu, and those of the dialog."""


class PlotsView(PanelView):
    """One block at a time; what is chosen on the map is followed."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self._farm: Farm | None = None
        self._options: Options | None = None
        self._table: FigureTable | None = None
        self._may_edit = True
        self.block = QComboBox()
        self.block.setAccessibleName("Block")
        self.block.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.block.setMinimumContentsLength(12)
        self.hand_out = QPushButton("Hand out")
        menu = QMenu(self.hand_out)
        self.actions_ = {ending: menu.addAction(words) for ending, (words, _) in KINDS.items()}
        for ending, action in self.actions_.items():
            action.triggered.connect(lambda _on=False, ending=ending: self._ask_where(ending))
        self.hand_out.setMenu(menu)
        self.said = AnswerLabel()
        self.results = FigureTableView(panel)
        self.results.column.setContentsMargins(0, 0, 0, 0)
        self.results.picked.connect(self._pick)
        self.edge = QComboBox()
        self.edge.setAccessibleName("How trees at the edge were counted")
        self.edge.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.edge.setMinimumContentsLength(14)
        for edge, words in EDGE_WORDS.items():
            self.edge.addItem(words, edge)
        leave_wheel(self.block, self.edge)
        self.edge.currentIndexChanged.connect(lambda _place: self.asks_anew.emit())
        self.form = LayoutForm()
        self.lay_out = QPushButton("Lay them out")
        self.lay_out.clicked.connect(self._lay_them_out)
        self.answer = AnswerLabel()
        self.count = CountPage()
        self.count.edit_wanted.connect(self.edit_wanted)
        self.block.activated.connect(self._block_chosen)
        self._place_parts()

    def _place_parts(self) -> None:
        top = QHBoxLayout()
        top.addWidget(self.block, 1)
        top.addWidget(self.hand_out)
        results = _page(self.said, self.results, self.edge)
        lay_out = _page(self.form, self.lay_out, self.answer)
        lay_out.layout().addStretch(1)  # type: ignore[union-attr]
        self.pages = PageStack(results, lay_out, self.count)
        self.page_row = PageRow(PAGES, self.pages)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 8, 8, 8)
        column.addLayout(top)
        column.addWidget(self.page_row)
        column.addWidget(self.pages, 1)

    def show_page(self, place: int) -> None:
        """Bring a page into sight: `RESULTS`, `LAY_OUT` or `COUNT`."""
        self.page_row.show_page(place)

    def asked(self) -> object:
        """Return how trees at the edge were counted."""
        return self.edge.currentData()

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:
        """Show all three pages."""
        other = self._farm is None or self._farm.blocks is not farm.blocks
        self._farm, self._options, self._table = farm, options, table
        if other:
            self._list_blocks(farm)
        if options.chosen is not None:
            self._stand_on(options.chosen)
        elif self.block.currentData() is None and table.ids:
            self._stand_on(Chosen("block", table.ids[0]))
        self.results.show_figures(farm, options, table)
        self._show_block()

    def let_edit(self, may: bool) -> None:
        """Offer to lay plots out and to count, or do not."""
        self._may_edit = may
        self.lay_out.setEnabled(may and self.block.currentData() is not None)
        self.count.let_edit(may)

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Follow the block that was chosen on the map."""
        self.results.show_chosen(chosen)
        if chosen is not None:
            self._stand_on(chosen)
            self._show_block()

    def write(self, path: Path) -> None:
        """Hand the plots of the block out: a field sheet, points for a GPS or a table, by the ending of the name."""
        block = self.block.currentData()
        if self._farm is None or block is None:
            return
        try:
            words = self._write(path, int(block))
        except (FarmmapError, OSError) as error:
            self._say(f"Nothing was written: {error}", warning=True)
            return
        self._say(f"Written to {path.name}: {words}")

    def _write(self, path: Path, block: int) -> str:
        assert self._farm is not None
        assert self._options is not None
        if path.suffix.lower() == ".pdf":
            from farmmap.sheets.plot_sheet import compose_plots
            from farmmap.sheets.sheet import SheetOptions, write_sheet

            page = compose_plots(self._farm, block, self._options.on, SheetOptions(folder=self._options.folder))
            write_sheet(page, path)
            return page.words
        from farmmap.plans.sampling.handing_on import write_plots

        return how_many(write_plots(self._farm, [block], path))

    def _ask_where(self, ending: str) -> None:
        name = re.sub(r"[^\w]+", "_", self.block.currentText()).strip("_").lower() or "block"
        dialog = QFileDialog(self, "Hand out the plots", f"plots_{name}.{ending}", KINDS[ending][1])
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix(ending)
        dialog.fileSelected.connect(lambda chosen: self.write(Path(chosen)))
        dialog.finished.connect(dialog.deleteLater)
        dialog.open()

    def _list_blocks(self, farm: Farm) -> None:
        was = self.block.currentData()
        self.block.clear()
        blocks = farm.blocks[(farm.blocks["stage"] == "existing").to_numpy(bool)]
        for one, name in zip(blocks.index.tolist(), blocks["name"], strict=True):
            self.block.addItem(str(name) or f"block {one}", one)
        self.block.setCurrentIndex(self.block.findData(was) if was is not None else -1)

    def _stand_on(self, chosen: Chosen) -> None:
        place = self.block.findData(chosen.id) if chosen.kind == "block" else -1
        if place >= 0 and place != self.block.currentIndex():
            self.block.setCurrentIndex(place)
            self.answer.say("")  # it was about another block

    def _block_chosen(self) -> None:
        block = self.block.currentData()
        if block is not None:
            self.picked.emit(Chosen("block", int(block)))
        self.answer.say("")
        self._show_block()

    def _pick(self, chosen: Chosen) -> None:
        if self.block.findData(chosen.id) >= 0:  # the row of all blocks together stands for none
            self.picked.emit(chosen)

    def _show_block(self) -> None:
        farm, block = self._farm, self.block.currentData()
        self.lay_out.setEnabled(self._may_edit and block is not None)
        if farm is None:
            return
        self.count.show_block(farm, -1 if block is None else int(block))
        row = None if block is None or self._table is None else self._table.row_of(int(block))
        self.hand_out.setEnabled(row is not None)
        self.said.say(
            result_words(self.block.currentText(), row)
            if block is not None
            else "Choose a block here or on the map."
            if self.block.count()
            else "The farm has no block in which trees stand. Draw one on the map first."
        )

    def _lay_them_out(self) -> None:
        block = self.block.currentData()
        if self._farm is None or block is None:
            return
        try:
            proposed = plots_laid_out(self._farm, [int(block)], self.form.layout_wanted())
        except FarmmapError as error:
            self._say(str(error), warning=True)
            return
        self._say(" ".join((f"{proposed.edit.name}: done.", *proposed.notes)))
        self.edit_wanted.emit(proposed.edit)

    def _say(self, words: str, *, warning: bool = False) -> None:
        label = self.answer if self.pages.currentIndex() == LAY_OUT else self.said
        label.say(words, warning=warning)


def result_words(name: str, row: object) -> str:
    """Say what the plots of a block come to.

    Parameters
    ----------
    name : str
        Name of the block.
    row : mapping or None
        Its row of `farmmap.figures.sampling.tables.plot_figures`, None if it has no plots.
    """
    if not isinstance(row, dict):
        return f"{name}: no sample plots yet. Lay them out, print their sheet, count, and type the counts in."
    if not row["plots"]:
        return f"{name}: {how_many(int(row['plots_waiting']))} laid out, none measured yet."
    said = []
    for key, words in (
        ("stems_per_ha", "stems/ha"),
        ("basal_area_m2_per_ha", "m²/ha basal area"),
        ("qmd_cm", "cm quadratic mean diameter"),
    ):
        if row[key] is not None:
            ends = [shown(f"{key}_{end}", row[f"{key}_{end}"]) for end in ("low", "high")]
            between = f" ({ends[0]} to {ends[1]})" if row[f"{key}_low"] is not None else " (not enough to say how sure)"
            said.append(f"{shown(key, row[key])} {words}{between}")
    more = row["plots_more"]
    need = ""
    if more is not None:
        need = " The interval is within ±10 %." if more == 0 else f" About {more} more plots would bring it to ±10 %."
    return f"{name}, {how_many(int(row['plots']))}: {'; '.join(said)}. In brackets: the 95 % interval.{need}"


def _page(*widgets: QWidget) -> QWidget:
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 4, 0, 0)
    for widget in widgets:
        column.addWidget(widget)
    return holder
