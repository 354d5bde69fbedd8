"""The form of a thinning: the rule with its numbers, and how crop trees are chosen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtGui import QAction
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QFormLayout,
    QFrame,
    QLabel,
    QMenu,
    QPushButton,
    QWidget,
)

from farmmap.panels.wheel import leave_wheel
from farmmap.plans.thinning.rule import (
    LIMITS,
    NUMBERS,
    RULES,
    CropRule,
    ThinningRule,
)

USUAL = ThinningRule()
WITHOUT = {
    "under_cm": "off",
    "radius_m": "half its crown",
    "stems_per_ha": "final stocking",
}
"""Numbers that may be left open, and what holds then."""
WORDS = {
    "percent": "Take out",
    "under_cm": "All thinner than",
    "radius_m": "Free as far as",
    "least_share_percent": "Leave thinner than",
    "gap_m": "Room beyond crowns",
    "basal_area_m2_per_ha": "Leave",
    "stems_per_ha": "Leave",
    "every": "Take one row in",
    "first_row": "First row to take",
}
"""Short words for the numbers of a rule; the tip says more."""
SUFFIXES = {"percent": "% of the stems", "least_share_percent": "% of crop tree"}
IN_LIST = {**RULES, "release-contact": "Free crop trees of touching crowns"}
"""What the list of rules says; it must fit into the narrowest column."""
LEAST_CHARACTERS = 17
"""Room for what is written in a field, in characters."""
WHOLE = ("every", "first_row")
STEPS = {"percent": 5.0, "stems_per_ha": 25.0, "least_share_percent": 5.0, "radius_m": 0.5, "gap_m": 0.5}
CHOOSE, AS_MARKED = "Choose them now", "Those that are marked"


@dataclass(frozen=True)
class _CropNumber:
    """A number of how crop trees are chosen, left open at 0."""

    words: str
    unit: str
    most: float
    step: float
    open: str


CROP_NUMBERS = {
    "target_cm": _CropNumber("Target diameter", "cm", 400.0, 5.0, "farm's own"),
    "stems_per_ha": _CropNumber("Final stocking", "/ha", 100_000.0, 10.0, "by crown"),
    "least_m": _CropNumber("Least spacing", "m", 100.0, 0.5, "by stocking"),
}


class RuleForm(QFrame):
    """What goes now, and which trees are kept to the end; every change is told at once."""

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.kind = QComboBox()
        self.kind.setAccessibleName("Rule")
        self.kind.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.kind.setMinimumContentsLength(12)
        for name, words in IN_LIST.items():
            self.kind.addItem(words, name)
        self.fields = {name: self._number(name) for names in NUMBERS.values() for name in names}
        self.crop_by = QComboBox()
        self.crop_by.setAccessibleName("Crop trees")
        self.crop_by.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.crop_by.setMinimumContentsLength(12)
        self.crop_by.addItems([CHOOSE, AS_MARKED])
        leave_wheel(self.kind, self.crop_by)
        self.crop_fields = {name: self._crop_number(one) for name, one in CROP_NUMBERS.items()}
        self.species_button = QPushButton()
        self.species_button.setAccessibleName("Species that may be crop")
        self._species_menu = QMenu(self.species_button)
        self.species_button.setMenu(self._species_menu)
        self.species: dict[str, QAction] = {}
        self.keep_marked = QCheckBox("Crop trees that are marked stay crop")
        self.keep_marked.setChecked(True)
        self.form = QFormLayout(self)
        self.form.setContentsMargins(0, 0, 0, 0)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        label = QLabel("What goes now")
        label.setBuddy(self.kind)
        self.form.addRow(label)
        self.form.addRow(self.kind)
        for name, number in self.fields.items():
            self._add(WORDS[name], number)
        self._add("Crop trees", self.crop_by)
        for name, number in self.crop_fields.items():
            self._add(CROP_NUMBERS[name].words, number)
        self._add("May be crop", self.species_button)
        self.form.addRow(self.keep_marked)
        for combo in (self.kind, self.crop_by):
            combo.currentIndexChanged.connect(self._follow)
        for number in (*self.fields.values(), *self.crop_fields.values()):
            number.valueChanged.connect(self._follow)
        self.keep_marked.toggled.connect(self._follow)
        self._follow()

    def rule(self) -> ThinningRule:
        """Return the rule as it is set."""
        kind = str(self.kind.currentData())
        values: dict[str, float | int | None] = {}
        for name in NUMBERS[kind]:
            value = self.fields[name].value()
            if name in WITHOUT and value <= self.fields[name].minimum():
                values[name] = None
            else:
                values[name] = round(value) if name in WHOLE else value
        return ThinningRule(kind=kind, **values)  # type: ignore[arg-type]

    def crop(self) -> CropRule | None:
        """Return how crop trees are chosen; None where it is those that are marked."""
        if self.crop_by.currentText() == AS_MARKED:
            return None
        target_cm, stems_per_ha, least_m = (field.value() or None for field in self.crop_fields.values())
        never = {code: 0.0 for code, action in self.species.items() if not action.isChecked()}
        keep = self.keep_marked.isChecked()
        return CropRule(target_cm, stems_per_ha, least_m, species=never, keep_marked=keep)

    def show_species(self, species: Sequence[tuple[str, str]]) -> None:
        """Offer the species of a block, by name and code; what was said of one before holds again."""
        if [code for _, code in species] == list(self.species):
            return
        before = {code: action.isChecked() for code, action in self.species.items()}
        self._species_menu.clear()
        self.species = {}
        for name, code in species:
            action = QAction(name or "species not given", self._species_menu)
            action.setCheckable(True)
            action.setChecked(before.get(code, True))
            action.toggled.connect(self._follow)
            self._species_menu.addAction(action)
            self.species[code] = action
        self._name_species()

    def show_open(self, stocking: Mapping[str, float]) -> None:
        """Say beside numbers that are left open what they come to, by name."""
        for name, field in self.crop_fields.items():
            one = CROP_NUMBERS[name]
            found = stocking.get(name)
            with QSignalBlocker(field):
                words = one.open if found is None else f"{one.open}: {found:.{field.decimals()}f} {one.unit}"
                field.setSpecialValueText(words)

    def _add(self, words: str, field: QWidget) -> None:
        label = QLabel(words)
        label.setBuddy(field)
        self.form.addRow(label, field)

    def _number(self, name: str) -> QDoubleSpinBox:
        limit = LIMITS[name]
        usual = getattr(USUAL, name)
        made = _spin_box(
            limit.words, "" if name in WHOLE else SUFFIXES.get(name, limit.unit), limit.most, STEPS.get(name, 1.0)
        )
        made.setToolTip(f"{limit.words[:1].upper()}{limit.words[1:]}")
        made.setDecimals(0 if name in WHOLE or name.endswith("percent") else 1)
        made.setMinimum(0.0 if name in WITHOUT else limit.least)
        if name in WITHOUT:
            made.setSpecialValueText(WITHOUT[name])
        made.setValue(made.minimum() if usual is None else usual)
        return made

    def _crop_number(self, one: _CropNumber) -> QDoubleSpinBox:
        made = _spin_box(one.words, one.unit, one.most, one.step)
        made.setDecimals(1 if one.unit == "m" else 0)
        made.setSpecialValueText(one.open)
        return made

    def _follow(self) -> None:
        kind = str(self.kind.currentData())
        for name, field in self.fields.items():
            self.form.setRowVisible(field, name in NUMBERS[kind])
        self.fields["percent"].setEnabled(self.fields["under_cm"].value() <= 0)
        chooses = self.crop_by.currentText() == CHOOSE
        for part in (*self.crop_fields.values(), self.keep_marked):
            self.form.setRowVisible(part, chooses)
        self.form.setRowVisible(self.species_button, chooses)
        self.kind.setToolTip(RULES[kind])
        self._name_species()
        self.changed.emit()

    def _name_species(self) -> None:
        chosen = [action.text() for action in self.species.values() if action.isChecked()]
        words = ", ".join(chosen) if len(chosen) < len(self.species) else "every species"
        self.species_button.setText(words or "none")
        self.species_button.setToolTip(f"{words or 'none'}: press to choose")


def _spin_box(words: str, unit: str, most: float, step: float) -> QDoubleSpinBox:
    made = QDoubleSpinBox()
    leave_wheel(made)
    made.setMaximum(most)
    made.setSingleStep(step)
    made.setSuffix(f" {unit}" if unit else "")
    made.setMinimumWidth(made.fontMetrics().averageCharWidth() * LEAST_CHARACTERS)
    made.setAccessibleName(words)
    made.setKeyboardTracking(False)
    return made
