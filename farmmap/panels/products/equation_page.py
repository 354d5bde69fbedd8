"""A page on which a grower's own volume equation is drawn from stems that were measured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QPlainTextEdit, QPushButton, QVBoxLayout, QWidget

from farmmap.errors import BadInput
from farmmap.panels.answer_label import AnswerLabel
from farmmap.panels.products.species_list import fill_species
from farmmap.panels.wheel import leave_wheel
from farmmap.panels.wrapped_label import WrappedLabel

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.plans.harvest.own_equation import OwnEquation

PLACES_OF_A = 12


class EquationPage(QWidget):
    """Stems as lines of text, the equation that goes through them, and taking it into the farm."""

    edit_wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm: Farm | None = None
        self._may_edit = True
        self._equation: OwnEquation | None = None
        words = WrappedLabel(
            "One line for each stem that was felled and measured: diameter at breast height over bark in cm, height in "
            "m, volume over bark in m³, such as 42.5 24 1.38. Eight stems or more, thin and thick ones."
        )
        words.setProperty("quiet", True)
        self.text = QPlainTextEdit()
        self.text.setAccessibleName("Measured stems: diameter, height and volume, a line each")
        self.text.setTabChangesFocus(True)
        self.text.textChanged.connect(self._work_out)
        self.answer = AnswerLabel()
        self.species = QComboBox()
        leave_wheel(self.species)
        self.species.setAccessibleName("Species that the equation is for")
        self.species.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.species.setMinimumContentsLength(12)
        label = QLabel("For:")
        label.setBuddy(self.species)
        self.take_button = QPushButton("Take into your stem volumes")
        self.take_button.clicked.connect(self._take)
        row = QHBoxLayout()
        row.addWidget(label)
        row.addWidget(self.species, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 8, 0, 0)
        column.addWidget(words)
        column.addWidget(self.text, 1)
        column.addWidget(self.answer)
        column.addLayout(row)
        column.addWidget(self.take_button, 0, Qt.AlignmentFlag.AlignLeft)
        self._work_out()

    def show_farm(self, farm: Farm) -> None:
        """Offer the species of a farm."""
        before, self._farm = self._farm, farm
        if before is None or before.species is not farm.species:
            fill_species(self.species, farm)

    def let_edit(self, may: bool) -> None:
        """Offer to take the equation into the farm, or do not."""
        self._may_edit = may
        self.take_button.setEnabled(may and self._equation is not None)

    def _work_out(self) -> None:
        from farmmap.plans.harvest.own_equation import own_equation, stems_typed

        self._equation = None
        text = self.text.toPlainText()
        if not text.strip():
            self.answer.say("No stem yet.")
        else:
            try:
                self._equation = own_equation(*stems_typed(text))
            except BadInput as error:
                self.answer.say(str(error), warning=True)
            else:
                self.answer.say(equation_words(self._equation))
        self.let_edit(self._may_edit)

    def _take(self) -> None:
        from farmmap.plans.harvest.own_lines import line_added

        if self._farm is None or self._equation is None:
            return
        found = self._equation
        line = {
            "species": self.species.currentData(),
            "kind": "power",
            "a": round(found.a, PLACES_OF_A),
            "b": round(found.b, 6),
            "c": round(found.c, 6),
            "source": f"own equation from {found.stems} measured stems",
        }
        try:
            proposed = line_added(self._farm, "volumes", line)
        except BadInput as error:
            self.answer.say(str(error), warning=True)
            return
        self.edit_wanted.emit(proposed.edit)


def equation_words(found: OwnEquation) -> str:
    """Return an equation and how far it can be trusted in words."""
    a = f"{found.a:.{PLACES_OF_A}f}".rstrip("0")
    errors = found.fit.errors.tolist()
    scatter = 100.0 * found.fit.scatter
    return (
        f"Volume = {a} × diameter^{found.b:.3f} × height^{found.c:.3f}, from {found.stems} stems.\n"
        f"Standard errors of the powers: {errors[1]:.3f} and {errors[2]:.3f}. Single stems lie about {scatter:.0f} % "
        "off it; it holds for the sizes that were measured."
    )
