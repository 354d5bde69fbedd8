"""The Thinning panel: a proposal by rule or the marks as they stand, what they come to, and what to do next."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QModelIndex, QSignalBlocker
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QRadioButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from farmmap.editing.proposed import Proposed
from farmmap.editing.words import day_words
from farmmap.errors import FarmmapError
from farmmap.farm.farm import Farm
from farmmap.figures.result import FigureTable
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.panel_view import PanelView
from farmmap.panels.registry import Options, Panel
from farmmap.panels.thinning.figures import Asked, ThinningFigures
from farmmap.panels.thinning.hand_out import HandOut
from farmmap.panels.thinning.part_models import PartsModel, SpeciesModel
from farmmap.panels.thinning.part_table import PartTable
from farmmap.panels.thinning.rule_form import RuleForm
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.working_view import WorkingView
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.plans.thinning.marks import marked
from farmmap.plans.thinning.result import Thinning
from farmmap.scene.scene import Chosen

NO_BLOCK_YET = "The farm has no block in which trees stand. Draw one on the map first."
MOST_SPECIES = 8
"""So many species are seen at once; the others are scrolled to."""


class ThinningView(PanelView):
    """Says whether its figures are those of the marks as they stand, or of a proposal that is not on the trees yet."""

    def __init__(self, panel: Panel, parent: QWidget | None = None) -> None:
        super().__init__(panel, parent)
        self._farm: Farm | None = None
        self._figures: ThinningFigures | None = None
        self._may_edit = True
        self.block = QComboBox()
        leave_wheel(self.block)
        self.block.setAccessibleName("Block")
        self.block.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.block.setMinimumContentsLength(12)
        self.block.activated.connect(self._block_chosen)
        self.as_marked = QRadioButton("Marks as they stand")
        self.proposal = QRadioButton("A proposal")
        self.as_marked.setChecked(True)
        self.form = RuleForm()
        self.form.setVisible(False)
        self.form.changed.connect(self.asks_anew)
        self.heading = WrappedLabel()
        self.heading.setProperty("heading", True)
        self.felled_later = WrappedLabel()
        self.put_button = QPushButton("Put these marks on the trees")
        self.put_button.clicked.connect(self._put_marks)
        self.by_hand = WrappedLabel("Single marks are changed on the map, with Mark (F5).")
        self.by_hand.setProperty("quiet", True)
        self.answer = AnswerLabel()
        self.parts = PartsModel(self)
        self.parts_table = PartTable(self.parts, "Before, taken and after")
        self.working = WorkingView()
        self.species = SpeciesModel(self)
        self.species_table = PartTable(self.species, "Species before, taken and after", MOST_SPECIES)
        self.cautions = WrappedLabel()
        self.cautions.setProperty("warning", True)
        self.notes = WrappedLabel()
        self.notes.setProperty("quiet", True)
        self.hand_out = HandOut()
        self.hand_out.edit_wanted.connect(self._propose)
        self.hand_out.said.connect(self.answer.say)
        self._lay_out()
        group = QButtonGroup(self)
        group.addButton(self.as_marked)
        group.addButton(self.proposal)
        self.proposal.toggled.connect(self._looked_at_changed)
        self.parts_table.working_wanted.connect(self.working.open_working)
        self.parts_table.doubleClicked.connect(lambda _index: self.working.open_working())
        self.parts_table.selectionModel().currentChanged.connect(self._name_figure)

    def asked(self) -> Asked:
        """Return the block, and the proposal that is wanted."""
        return Asked(self._block, self.proposal.isChecked(), self.form.rule(), self.form.crop())

    def show_figures(self, farm: Farm, options: Options, table: FigureTable) -> None:  # noqa: ARG002 - others read it
        """Show a thinning, and say what it is."""
        if not isinstance(table, ThinningFigures):
            return
        self._list_blocks(farm)
        if self._figures is not None and self._figures.block != table.block:
            self.answer.say("")
        self._farm, self._figures = farm, table
        made = table.made
        has_trees = made is not None and len(made) > 0
        with QSignalBlocker(self.block):
            self.block.setCurrentIndex(-1 if table.block is None else self.block.findData(table.block))
        self.heading.setText(_heading(table))
        later = "" if made is None else _felled_later(farm, made)
        self.felled_later.setText(later)
        self.felled_later.setVisible(bool(later))
        self.parts.show_parts(table)
        self.species.show_species(table.species())
        for view in (self.parts_table, self.species_table):
            view.setVisible(has_trees)
            view.take_height()
        self.working.setVisible(has_trees)
        self._name_figure(self.parts_table.currentIndex(), QModelIndex())
        self.cautions.setText("" if made is None else "\n".join(made.cautions))
        self.cautions.setVisible(bool(made is not None and made.cautions))
        self.notes.setText("\n".join(table.notes if self.block.count() else (NO_BLOCK_YET,)))
        self.put_button.setVisible(table.is_proposal)
        self._enable()
        crop = None if made is None else made.crop
        if table.is_proposal:
            final = {} if crop is None else vars(crop.final) | {"least_m": crop.least_m}
            self.form.show_open(final)
            self.form.show_species([(one.name, one.code) for one in self.species.counts])
        self.hand_out.show_thinning(farm, None if table.is_proposal else made)
        self.hand_out.setVisible(not table.is_proposal and has_trees)
        self.by_hand.setVisible(not table.is_proposal and has_trees)

    def let_edit(self, may: bool) -> None:
        """Offer what puts marks on and takes them off, or do not."""
        self._may_edit = may
        self.hand_out.let_edit(may)
        self._enable()

    def show_chosen(self, chosen: Chosen | None) -> None:
        """Wait for the figures: they follow what is chosen."""

    @property
    def _block(self) -> int | None:
        return None if self._figures is None else self._figures.block

    def _lay_out(self) -> None:
        block_words = QLabel("Block")
        block_words.setBuddy(self.block)
        head = QHBoxLayout()
        head.addWidget(block_words)
        head.addWidget(self.block, 1)
        looked_at = QHBoxLayout()
        looked_at.addWidget(self.as_marked)
        looked_at.addWidget(self.proposal)
        looked_at.addStretch(1)
        put = QHBoxLayout()
        put.addWidget(self.put_button)
        put.addStretch(1)
        self.working.text.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 8, 8, 8)
        column.setSpacing(8)
        column.addLayout(head)
        column.addLayout(looked_at)
        column.addWidget(self.form)
        column.addWidget(_rule())
        column.addWidget(self.heading)
        column.addWidget(self.felled_later)
        column.addLayout(put)
        column.addWidget(self.by_hand)
        column.addWidget(self.answer)
        column.addWidget(self.parts_table)
        column.addWidget(self.working)
        column.addWidget(self.working.text)
        column.addWidget(self.cautions)
        column.addWidget(self.species_table)
        column.addWidget(self.hand_out)
        column.addWidget(self.notes)
        column.addStretch(1)

    def _enable(self) -> None:
        made = None if self._figures is None else self._figures.made
        self.put_button.setEnabled(self._may_edit and made is not None and len(made) > 0)

    def _list_blocks(self, farm: Farm) -> None:
        if self._farm is not None and farm.blocks is self._farm.blocks:
            return
        with QSignalBlocker(self.block):
            self.block.clear()
            standing = farm.blocks[farm.blocks["stage"] == "existing"]
            for id_, name in sorted(standing["name"].items(), key=lambda one: str(one[1]).casefold()):
                self.block.addItem(str(name) or f"block {id_}", int(id_))

    def _block_chosen(self) -> None:
        self.picked.emit(Chosen("block", int(self.block.currentData())))

    def _looked_at_changed(self) -> None:
        self.form.setVisible(self.proposal.isChecked())
        self.answer.say("")
        self.asks_anew.emit()

    def _put_marks(self) -> None:
        """Put the proposal on the trees, and look at the marks as they stand from then on."""
        figures = self._figures
        if figures is None or figures.made is None:
            return
        made = figures.made
        if self._propose(lambda farm: marked(farm, made)):
            self.as_marked.setChecked(True)

    def _propose(self, make: Callable[[Farm], Proposed]) -> bool:
        """Hand an edit on; say why if it is refused."""
        if self._farm is None:
            return False
        try:
            proposed = make(self._farm)
        except FarmmapError as refused:
            self.answer.say(str(refused), warning=True)
            return False
        self.answer.say("")
        self.edit_wanted.emit(proposed.edit)
        return True

    def _name_figure(self, current: QModelIndex, _before: QModelIndex) -> None:
        if current.isValid() and self._figures is not None and self._figures.made is not None:
            self.working.show_figure(*self.parts.figure_at(current.row(), current.column()))
        else:
            self.working.show_figure("", None, "")


def _heading(figures: ThinningFigures) -> str:
    made = figures.made
    if made is None or not len(made):
        return ""
    if figures.is_proposal:
        return f"Proposal for {made.name}: {made.words}. It is not on the trees yet."
    takes, crop = len(made.take_ids), len(made.crop_ids)
    left = len(made) - takes - crop
    return f"{made.name}, {made.words}: {crop} crop, {takes} to be taken out, {left} left."


def _felled_later(farm: Farm, made: Thinning) -> str:
    """Say which of the trees are known to be felled after the day that is shown, as they still count on it."""
    trees = farm.trees.loc[made.ids]
    felled = trees["status_on"][(trees["status"] == "felled") & (trees["status_on"] > np.datetime64(made.on))]
    if felled.empty:
        return ""
    first, last = day_words(felled.min()), day_words(felled.max())
    when = f"on {last}" if first == last else f"from {first} to {last}"
    return f"{len(felled)} of these trees were felled later, {when}. Slide the date on to see what was left."


def _rule() -> QFrame:
    line = QFrame()
    line.setFrameShape(QFrame.Shape.HLine)
    line.setFrameShadow(QFrame.Shadow.Plain)
    line.setProperty("quiet", True)
    return line
