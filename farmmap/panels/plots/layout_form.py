"""The form by which plots are laid out: how, how many, and what each is."""

from __future__ import annotations

import math

from PySide6.QtWidgets import QCheckBox, QComboBox, QDoubleSpinBox, QFormLayout, QFrame, QSpinBox, QWidget

from farmmap.figures.sampling.zones import ANGLE_COUNT, CIRCLE, STRIP, PlotShape, circle_radius_m
from farmmap.panels.wheel import leave_wheel
from farmmap.plans.sampling.layout import GRID, RANDOM, STRATIFIED, Layout

DESIGN_WORDS = {
    RANDOM: "Anywhere at random",
    GRID: "Grid, random start",
    STRATIFIED: "At random in each part",
}
SHAPE_WORDS = {CIRCLE: "Circle", STRIP: "Strip", ANGLE_COUNT: "Angle count"}
USUAL_M2 = 200.0


class LayoutForm(QFrame):
    """Sets a `Layout`; fields that do not matter are not shown."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.design = _choice("How plots are laid out", DESIGN_WORDS)
        self.number = QSpinBox()
        self.number.setRange(1, 2000)
        self.number.setValue(10)
        self.number.setAccessibleName("How many plots")
        self.spacing = _number("m", 0.0, 5000.0, 5.0, 0.0, "by number")
        self.bearing = _number("°", -1.0, 359.0, 5.0, -1.0, "along the block")
        self.bearing.setDecimals(0)
        self.parts = QSpinBox()
        self.parts.setRange(2, 26)
        self.parts.setValue(4)
        self.by_spread = QCheckBox("More where earlier plots differ more")
        self.shape = _choice("Kind of plot", SHAPE_WORDS)
        self.radius = _number("m", 0.5, 100.0, 0.5, round(circle_radius_m(USUAL_M2), 2))
        self.length = _number("m", 0.5, 5000.0, 5.0, 50.0)
        self.width_ = _number("m", 0.5, 500.0, 1.0, 10.0)
        self.strip_bearing = _number("°", 0.0, 359.0, 5.0, 0.0)
        self.strip_bearing.setToolTip("Direction from grid north")
        self.factor = _number("m²/ha", 0.1, 100.0, 1.0, 2.0)
        self.slope = _number("°", -1.0, 60.0, 1.0, -1.0, "not known yet")
        self.seed = QSpinBox()
        self.seed.setRange(0, 999_999)
        self.seed.setValue(1)
        self.seed.setToolTip("The same number gives the same plots again; take another for other plots")
        self.replace = QCheckBox("Plots not measured yet make way")
        self.replace.setChecked(True)
        self.form = QFormLayout(self)
        self.form.setContentsMargins(0, 0, 0, 0)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        for words, field in (
            ("Laid out", self.design),
            ("Plots", self.number),
            ("Apart", self.spacing),
            ("Parts", self.parts),
            ("Direction", self.bearing),
            ("", self.by_spread),
            ("Kind of plot", self.shape),
            ("Radius, level", self.radius),
            ("Length, level", self.length),
            ("Width, level", self.width_),
            ("Strip runs", self.strip_bearing),
            ("Factor", self.factor),
            ("Slope", self.slope),
            ("Draw number", self.seed),
            ("", self.replace),
        ):
            self.form.addRow(words, field)
            if not isinstance(field, QCheckBox):
                leave_wheel(field)
            if words:
                field.setAccessibleName(words)
        self.design.currentIndexChanged.connect(self._follow)
        self.shape.currentIndexChanged.connect(self._follow)
        self.spacing.valueChanged.connect(self._follow)
        self._follow()

    def layout_wanted(self) -> Layout:
        """Return what is set."""
        design, kind = str(self.design.currentData()), str(self.shape.currentData())
        spaced = design == GRID and self.spacing.value() > 0
        return Layout(
            design,
            None if spaced else self.number.value(),
            self.spacing.value() if spaced else None,
            math.nan if self.bearing.value() < 0 else self.bearing.value(),
            self.parts.value(),
            self.by_spread.isChecked() and design == STRATIFIED,
            self.seed.value(),
            PlotShape(
                kind,
                self.radius.value() if kind == CIRCLE else math.nan,
                self.length.value() if kind == STRIP else math.nan,
                self.width_.value() if kind == STRIP else math.nan,
                self.strip_bearing.value() if kind == STRIP else 0.0,
                self.factor.value() if kind == ANGLE_COUNT else math.nan,
            ),
            math.nan if self.slope.value() < 0 else self.slope.value(),
            self.replace.isChecked(),
        )

    def _follow(self) -> None:
        """Show the fields that matter."""
        design, kind = self.design.currentData(), self.shape.currentData()
        for field, shown in (
            (self.number, design != GRID or self.spacing.value() <= 0),
            (self.spacing, design == GRID),
            (self.bearing, design in {GRID, STRATIFIED}),
            (self.parts, design == STRATIFIED),
            (self.by_spread, design == STRATIFIED),
            (self.radius, kind == CIRCLE),
            (self.length, kind == STRIP),
            (self.width_, kind == STRIP),
            (self.strip_bearing, kind == STRIP),
            (self.factor, kind == ANGLE_COUNT),
        ):
            self.form.setRowVisible(field, shown)


def _choice(name: str, words: dict[str, str]) -> QComboBox:
    made = QComboBox()
    made.setAccessibleName(name)
    made.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    made.setMinimumContentsLength(14)
    for key, said in words.items():
        made.addItem(said, key)
    return made


def _number(unit: str, least: float, most: float, step: float, value: float, otherwise: str = "") -> QDoubleSpinBox:
    made = QDoubleSpinBox()
    made.setRange(least, most)
    made.setSingleStep(step)
    made.setDecimals(2 if unit == "m" else 1)
    made.setSuffix(f" {unit}")
    made.setValue(value)
    made.setSpecialValueText(otherwise)
    return made
