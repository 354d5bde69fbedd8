"""What is printed and on what: the first page of the form beside the sheet."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QComboBox, QFormLayout, QLineEdit, QVBoxLayout, QWidget

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm
from farmmap.panels.wheel import leave_wheel
from farmmap.scene.paper import PAPERS
from farmmap.sheets.chosen import SheetChoices
from farmmap.sheets.subjects import SUBJECTS, title_of
from farmmap.window.messages import CAUTION, hint

SCALES = (500, 1000, 2000, 2500, 5000, 10_000, 20_000, 25_000)
AS_LARGE = "As large as fits"
WAYS = (("Whichever shows it larger", None), ("Lying", True), ("Upright", False))
LOOK_WORDS = (
    ("Colour", "colour"),
    ("Colour-blind safe", "safe"),
    ("Black and white, for copies", "grey"),
)


class SheetForm(QWidget):
    """Fields that say what is printed, its title, paper, scale and look.

    Parameters
    ----------
    farm : Farm
        The farm.
    hidden : frozenset of str
        What is hidden on the map.
    """

    changed = Signal(object, str)
    """`SheetChoices`, and the kind of change."""
    refused = Signal(object)
    """What cannot be chosen, as a `BadInput`; None once everything can be again."""

    def __init__(self, farm: Farm, hidden: frozenset[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._farm, self._hidden = farm, hidden
        self._choices = SheetChoices()
        self.trouble: BadInput | None = None
        self.what = QComboBox()
        for name, subject in SUBJECTS.items():
            self.what.addItem(subject.words, name)
        self.which = QComboBox()
        self.title = QLineEdit()
        self.paper = QComboBox()
        self.paper.addItems(list(PAPERS))
        self.way = QComboBox()
        for words, way in WAYS:
            self.way.addItem(words, way)
        self.scale = QComboBox()
        self.scale.setEditable(True)
        self.scale.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        self.scale.addItem(AS_LARGE)
        self.scale.addItems([scale_words(scale) for scale in SCALES])
        self.look = QComboBox()
        for words, look in LOOK_WORDS:
            self.look.addItem(words, look)
        self.beside = QCheckBox("Existing and planned side by side")
        self.beside.setToolTip("Two maps: the farm as it stands, and with what is planned")
        self.as_shown = QCheckBox("Leave out what is hidden on the map")
        self.as_shown.setToolTip("Layers that are unticked in the key on the map are not printed")
        for box in (self.what, self.which):  # long names must not widen the column
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            box.setMinimumContentsLength(14)
        leave_wheel(self.what, self.which, self.paper, self.way, self.scale, self.look)
        self._lay_out()
        self.what.activated.connect(self._what_chosen)
        self.which.activated.connect(lambda: self._changed(of=self.which.currentData()))
        self.title.textEdited.connect(lambda text: self._option("title", text.strip() or None, "title"))
        self.paper.activated.connect(lambda: self._option("paper", self.paper.currentText()))
        self.way.activated.connect(lambda: self._option("landscape", self.way.currentData()))
        self.scale.currentTextChanged.connect(self._scale_written)
        self.look.activated.connect(lambda: self._option("look", self.look.currentData()))
        self.beside.clicked.connect(lambda on: self._option("beside", on))
        self.as_shown.toggled.connect(lambda on: self._option("hidden", self._hidden if on else frozenset()))

    def _lay_out(self) -> None:
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        form.setContentsMargins(0, 0, 0, 0)
        form.setVerticalSpacing(6)
        self._form = form
        for words, field in (
            ("What is printed", self.what),
            ("Which", self.which),
            ("Title", self.title),
            ("Paper", self.paper),
            ("Lying or upright", self.way),
            ("Scale", self.scale),
            ("Look", self.look),
        ):
            form.addRow(words, field)
            field.setAccessibleName(words)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        column.addLayout(form)
        column.addWidget(self.beside)
        column.addWidget(self.as_shown)
        column.addSpacing(8)
        column.addStretch(1)
        column.addWidget(hint(CAUTION))

    def show_choices(self, choices: SheetChoices) -> None:
        """Show what is chosen, without telling of it."""
        self._choices = choices
        chosen = choices.options
        self._fill_which(choices)
        for box, value in ((self.what, choices.what), (self.way, chosen.landscape), (self.look, chosen.look)):
            box.setCurrentIndex(box.findData(value))
        self.paper.setCurrentText(chosen.paper)
        if self.title.text().strip() != (chosen.title or ""):
            self.title.setText(chosen.title or "")
        self.title.setPlaceholderText(title_of(self._farm, choices))
        if self.trouble is not None or _scale_of(self.scale.currentText()) != chosen.scale:
            self.scale.blockSignals(True)
            self.scale.setEditText(AS_LARGE if chosen.scale is None else scale_words(chosen.scale))
            self.scale.blockSignals(False)
            self._tell(None)
        self.beside.setChecked(chosen.beside)
        self.beside.setVisible(choices.what in SUBJECTS and SUBJECTS[choices.what].two_maps)
        self.as_shown.blockSignals(True)
        self.as_shown.setChecked(bool(chosen.hidden))
        self.as_shown.blockSignals(False)
        self._hidden = chosen.hidden or self._hidden
        self.as_shown.setVisible(bool(self._hidden))

    def show_title(self, title: str) -> None:
        """Show the title that the page has without one of the grower's own."""
        self.title.setPlaceholderText(title)

    def _fill_which(self, choices: SheetChoices) -> None:
        subject = SUBJECTS.get(choices.what)
        there = () if subject is None or subject.which is None else subject.which(self._farm)
        self.which.clear()
        for value, words in there:
            self.which.addItem(words, value)
        self.which.setCurrentIndex(self.which.findData(choices.of))
        self._form.setRowVisible(self.which, bool(there))

    def _what_chosen(self) -> None:
        what = self.what.currentData()
        subject = SUBJECTS[what]
        there = () if subject.which is None else subject.which(self._farm)
        if what != self._choices.what:
            self._changed(what=what, of=there[0][0] if there else "")

    def _changed(self, kind: str = "", **parts: str) -> None:
        self._choices = replace(self._choices, **parts)  # type: ignore[arg-type]
        self.changed.emit(self._choices, kind)

    def _option(self, name: str, value: object, kind: str = "") -> None:
        self._choices = self._choices.with_options(**{name: value})
        self.changed.emit(self._choices, kind)

    def _scale_written(self, text: str) -> None:
        try:
            scale = _scale_of(text)
        except BadInput as error:
            self._tell(error)
            return
        self._tell(None)
        self._option("scale", scale, "scale")

    def _tell(self, error: BadInput | None) -> None:
        self.trouble = error
        self.refused.emit(error)


def scale_words(scale: int) -> str:
    """Return a scale as it is written, such as ``1:10 000``."""
    return f"1:{scale:,}".replace(",", "\u202f" if scale >= 10_000 else "")


def _scale_of(text: str) -> int | None:
    """Return the N of a scale that was written; None for as large as fits.

    Raises
    ------
    BadInput
        It is no scale.
    """
    text = text.strip()
    if text in {"", AS_LARGE}:
        return None
    digits = text.removeprefix("1:")
    for between in (" ", "\u202f", "\u00a0", ",", "."):
        digits = digits.replace(between, "")
    if not digits.isascii() or not digits.isdigit() or not int(digits):
        raise BadInput(f"'{text}' is not a scale; write it as 1:5000")
    return int(digits)
