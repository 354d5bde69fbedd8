"""What goes into a pack: plans, parts and their order, words of the grower's own, and who asks for what."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.panels.wheel import leave_wheel
from farmmap.sheets.pack.compose import FOLLOWS, PartState
from farmmap.sheets.pack.parts import PARTS
from farmmap.window.messages import hint
from farmmap.window.printing.pack_draft import PackDraft
from farmmap.window.printing.sheet_form import LOOK_WORDS
from farmmap.window.printing.sides import sentence

PAPERS = ("A4", "A3")
ABOUT = (
    ("title", "Title", "The names of plans and farm"),
    ("applicant", "Who asks", "A line to fill in"),
    ("scheme", "Grant or scheme", "A line to fill in"),
    ("reference", "Reference number", "A line to fill in"),
    ("property_id", "Id of property or parcels", "A line to fill in"),
    ("author", "Prepared by", ""),
    ("version", "Version", "Such as 2, or Draft for comment"),
)


class PackForm(QWidget):
    """Plans and parts to tick, in the order in which they are printed, and the words of one part."""

    changed = Signal(object, str)
    """A `PackDraft`, and the kind of change."""
    part_picked = Signal(str)

    def __init__(self, plans: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._draft = PackDraft()
        self._fills = False
        self._lacks: dict[str, str] = {}
        self.plans = _ticks("Planting plans that it is for", plans)
        self.parts = _ticks("Parts of the pack", ())
        line = max(self.fontMetrics().lineSpacing(), 20)
        self.parts.setFixedHeight(9 * line)
        self.up_button = QPushButton("Up")
        self.down_button = QPushButton("Down")
        self.about = hint("")
        self.text = QPlainTextEdit()
        self.text.setTabChangesFocus(True)
        self.text.setAccessibleName("Your own words for this part")
        self.text.setMinimumHeight(self.fontMetrics().lineSpacing() * 4 + 12)
        self.follows = QCheckBox("Set behind farmmap's words")
        self.follows.setToolTip("Unticked, your own words stand in place of farmmap's introduction to this part")
        self._lay_out(has_plans=bool(plans))
        self.plans.itemChanged.connect(self._plan_ticked)
        self.parts.itemChanged.connect(self._part_ticked)
        self.parts.currentItemChanged.connect(lambda _now, _before: self._show_part(told=True))
        self.up_button.clicked.connect(lambda: self._move(-1))
        self.down_button.clicked.connect(lambda: self._move(1))
        self.text.textChanged.connect(self._text_written)
        self.follows.clicked.connect(self._text_written)

    def _lay_out(self, *, has_plans: bool) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 6, 0)
        if has_plans:
            column.addWidget(_heading("Planting plans", self.plans))
            column.addWidget(self.plans)
        else:
            column.addWidget(hint("No planting plan is kept on this farm yet, so the pack is about what stands."))
        column.addWidget(_heading("Parts, in their order", self.parts))
        column.addWidget(self.parts)
        row = QHBoxLayout()
        row.addWidget(self.up_button)
        row.addWidget(self.down_button)
        column.addLayout(row)
        column.addWidget(self.about)
        self.text_words = _heading("Your own words", self.text)
        column.addWidget(self.text_words)
        column.addWidget(self.text, 1)
        column.addWidget(self.follows)

    @property
    def part(self) -> str:
        """Key of the part that is picked; "" for none."""
        item = self.parts.currentItem()
        return "" if item is None else _key(item)

    def show_draft(self, draft: PackDraft) -> None:
        """Show what is chosen, without telling of it."""
        self._draft = draft
        part = self.part or draft.order[0]
        self._fills = True
        for item in _items(self.plans):
            item.setCheckState(_state(_key(item) in draft.plans))
        if [_key(item) for item in _items(self.parts)] != list(draft.order):
            self.parts.clear()
            for key in draft.order:
                self.parts.addItem(_item(key, PARTS[key].title))
        for item in _items(self.parts):
            item.setCheckState(_state(_key(item) in draft.taken))
        self.parts.setCurrentRow(draft.order.index(part))
        self._fills = False
        self._show_lacks()
        self._show_part()

    def show_states(self, states: Sequence[PartState]) -> None:
        """Say which parts cannot be made now."""
        self._lacks = {state.key: state.lacks for state in states if state.lacks}
        self._show_lacks()
        self._show_part()

    def pick(self, part: str) -> None:
        """Pick a part by its key."""
        if part in self._draft.order:
            self.parts.setCurrentRow(self._draft.order.index(part))

    def _show_lacks(self) -> None:
        self._fills = True
        for item in _items(self.parts):
            lacks = self._lacks.get(_key(item), "")
            title = PARTS[_key(item)].title
            item.setText(f"{title}  (left out)" if lacks and _key(item) in self._draft.taken else title)
            item.setToolTip(sentence(for_window(lacks)))
        self._fills = False

    def _show_part(self, *, told: bool = False) -> None:
        if self._fills:
            return
        part = self.part
        if not part:
            return
        place = self._draft.order.index(part)
        self.up_button.setEnabled(place > 0)
        self.down_button.setEnabled(place < len(self._draft.order) - 1)
        lacks = for_window(self._lacks.get(part, ""))
        self.about.setText(sentence(f"{PARTS[part].about}. {sentence(lacks)}" if lacks else PARTS[part].about))
        self.text_words.setText(f"Your own words for “{PARTS[part].title}”")
        text = self._draft.texts.get(part, "")
        self._fills = True
        if self.text.toPlainText().strip() != text.removeprefix(FOLLOWS).strip():
            self.text.setPlainText(text.removeprefix(FOLLOWS).strip())
        self.follows.setChecked(text.startswith(FOLLOWS) or (not text and self.follows.isChecked()))
        self._fills = False
        if told:
            self.part_picked.emit(part)

    def _plan_ticked(self) -> None:
        if not self._fills:
            plans = tuple(_key(item) for item in _items(self.plans) if item.checkState() == Qt.CheckState.Checked)
            self._tell(replace(self._draft, plans=plans))

    def _part_ticked(self) -> None:
        if not self._fills:
            taken = [_key(item) for item in _items(self.parts) if item.checkState() == Qt.CheckState.Checked]
            self._tell(replace(self._draft, taken=frozenset(taken)))

    def _move(self, way: int) -> None:
        order, part = list(self._draft.order), self.part
        place = order.index(part)
        if 0 <= place + way < len(order):
            order.insert(place + way, order.pop(place))
            self._tell(replace(self._draft, order=tuple(order)))
            self.show_draft(self._draft)

    def _text_written(self) -> None:
        if not self._fills and self.part:
            text = self.text.toPlainText().strip()
            own = f"{FOLLOWS} {text}" if text and self.follows.isChecked() else text
            self._tell(self._draft.with_text(self.part, own), f"text {self.part}")

    def _tell(self, draft: PackDraft, kind: str = "") -> None:
        self._draft = draft
        self.changed.emit(draft, kind)


class AboutForm(QWidget):
    """Who asks for what, and on which paper."""

    changed = Signal(object, str)
    """A `PackDraft`, and the kind of change."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._draft = PackDraft()
        self.fields = {name: QLineEdit() for name, _, _ in ABOUT}
        self.paper = QComboBox()
        self.paper.addItems(PAPERS)
        self.look = QComboBox()
        for words, look in LOOK_WORDS:
            self.look.addItem(words, look)
        leave_wheel(self.paper, self.look)
        form = QFormLayout(self)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        form.setContentsMargins(0, 0, 6, 0)
        for name, words, empty in ABOUT:
            text = self.fields[name]
            text.setPlaceholderText(empty)
            text.setAccessibleName(words)
            form.addRow(words, text)
            text.textEdited.connect(lambda said, name=name: self._detail(name, said, name))
        for words, box in (("Paper", self.paper), ("Look", self.look)):
            box.setAccessibleName(words)
            form.addRow(words, box)
        self.paper.activated.connect(lambda: self._detail("paper", self.paper.currentText()))
        self.look.activated.connect(lambda: self._detail("look", self.look.currentData()))

    def show_draft(self, draft: PackDraft) -> None:
        """Show what is chosen, without telling of it."""
        self._draft = draft
        for name, text in self.fields.items():
            if text.text() != draft.details.get(name, ""):
                text.setText(draft.details.get(name, ""))
        self.paper.setCurrentText(draft.details.get("paper") or PAPERS[0])
        self.look.setCurrentIndex(self.look.findData(draft.details.get("look") or "colour"))

    def _detail(self, name: str, text: str, kind: str = "") -> None:
        self._draft = self._draft.with_detail(name, text)
        self.changed.emit(self._draft, kind)


def for_window(words: str) -> str:
    """Return words without what is only of use on the command line."""
    return words.replace(
        "name one that the farm keeps (--plan NAME)", "tick one, or plan one with the Plant tool first"
    )


def _ticks(called: str, names: Sequence[str]) -> QListWidget:
    made = QListWidget()
    made.setAccessibleName(called)
    made.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    for name in names:
        made.addItem(_item(name, name))
    made.setFixedHeight(min(max(len(names), 1), 4) * max(made.fontMetrics().lineSpacing(), 20) + 18)
    return made


def _item(key: str, words: str) -> QListWidgetItem:
    item = QListWidgetItem(words)
    item.setData(Qt.ItemDataRole.UserRole, key)
    item.setCheckState(Qt.CheckState.Unchecked)
    return item


def _items(ticks: QListWidget) -> list[QListWidgetItem]:
    return [ticks.item(row) for row in range(ticks.count())]


def _key(item: QListWidgetItem) -> str:
    return str(item.data(Qt.ItemDataRole.UserRole))


def _state(on: bool) -> Qt.CheckState:
    return Qt.CheckState.Checked if on else Qt.CheckState.Unchecked


def _heading(words: str, of: QWidget) -> QLabel:
    label = QLabel(words)
    label.setProperty("heading", True)
    label.setWordWrap(True)
    label.setBuddy(of)
    return label
