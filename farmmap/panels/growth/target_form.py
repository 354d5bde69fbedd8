"""A small form that sets the target diameter of a species, or takes it away."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.farm.schema import TARGETS
from farmmap.figures.growth.targets import Targets
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.wheel import leave_wheel

START_CM = 60.0
MOST_CHARACTERS = 40
"""Of what a species is grown for; it is said again under the form."""
EVERY_OTHER = "every other species"


class TargetForm(QWidget):
    """Species, product and diameter; what is set goes out as one edit."""

    edit_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm: Farm | None = None
        self._targets = Targets({}, {})
        column = TARGETS.column("dbh_cm")
        self.species = QComboBox()
        self.species.setAccessibleName("Species that the target is for")
        self.species.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.species.setMinimumContentsLength(12)
        self.product = QLineEdit()
        self.product.setPlaceholderText("such as pruned log")
        self.product.setMaxLength(MOST_CHARACTERS)
        self.product.setAccessibleName("What it is grown for")
        self.dbh_cm = QDoubleSpinBox()
        self.dbh_cm.setRange(column.least or 1.0, column.most or 400.0)
        self.dbh_cm.setDecimals(1)
        self.dbh_cm.setSingleStep(5.0)
        self.dbh_cm.setSuffix(" cm")
        self.dbh_cm.setAccessibleName("Target diameter at breast height")
        leave_wheel(self.species, self.dbh_cm)
        self.set_button = QPushButton("Set target")
        self.away_button = QPushButton("Take away")
        self.away_button.setToolTip("Takes your own target away; the usual one, if there is one, then holds again")
        self.answer = AnswerLabel()
        grid = QGridLayout()
        for row, (words, field, wide) in enumerate(
            (("Target of", self.species, 2), ("Grown for", self.product, 2), ("Ready from", self.dbh_cm, 1))
        ):
            label = QLabel(words)
            label.setBuddy(field)
            grid.addWidget(label, row, 0)
            grid.addWidget(field, row, 1, 1, wide)
        grid.setColumnStretch(2, 1)
        buttons = QHBoxLayout()
        buttons.addWidget(self.set_button)
        buttons.addWidget(self.away_button)
        buttons.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 4, 0, 0)
        outer.addLayout(grid)
        outer.addLayout(buttons)
        outer.addWidget(self.answer)
        self.species.currentIndexChanged.connect(self._fill)
        self.set_button.clicked.connect(self._set)
        self.away_button.clicked.connect(self._take_away)
        self.product.returnPressed.connect(self._set)

    def show_farm(self, farm: Farm, targets: Targets, species: list[tuple[str, str]]) -> None:
        """Be about a farm: its targets, and label and code of the species that stand on it."""
        before = None if self._farm is None else self.code
        self._farm, self._targets = farm, targets
        self.species.blockSignals(True)
        self.species.clear()
        for label, known in [*species, (EVERY_OTHER, "")]:
            self.species.addItem(label, known)
        self.species.blockSignals(False)
        if before is not None:
            self.choose(before)
        self._fill()

    @property
    def code(self) -> str:
        """Code of the species that it is about."""
        return str(self.species.currentData() or "")

    def choose(self, code: str) -> None:
        """Be about a species."""
        place = self.species.findData(code)
        self.species.setCurrentIndex(max(place, 0))

    def _fill(self) -> None:
        target = self._targets.of(self.code)
        own = self._targets.own.get(self.code)
        self.dbh_cm.setValue(START_CM if target is None else target.dbh_cm)
        self.product.setText("" if target is None else target.product)
        self.away_button.setEnabled(own is not None)
        if target is None:
            self.answer.say("No target is set yet.")
        else:
            made_for = f", {target.product}" if target.product else ""
            self.answer.say(f"Now {target.dbh_cm:g} cm{made_for}: {target.source}.")

    def _set(self) -> None:
        from farmmap.editing.targets import target_set

        if self._farm is None:
            return
        try:
            proposed = target_set(self._farm, self.code, self.dbh_cm.value(), self.product.text())
        except BadInput as error:
            self.answer.say(str(error), warning=True)
            return
        self.edit_wanted.emit(proposed.edit)

    def _take_away(self) -> None:
        from farmmap.editing.targets import target_removed

        own = self._targets.own.get(self.code)
        if self._farm is None or own is None:
            return
        self.edit_wanted.emit(target_removed(self._farm, own.row).edit)
