"""The mix of a zone: a line for each kind of plant, with its share and its stock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QCompleter,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QWidget,
)

from farmmap.farm.schema import STOCKS
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.plans.planting.recipes.recipe import Kin
from farmmap.window.tools.planting.draft import PART_OF_PERCENT, evened, percent
from farmmap.window.tools.planting.fields import Choice, NumberField

STOCK_WORDS = tuple((stock, stock) for stock in STOCKS if stock not in {"", "natural"})


class SpeciesField(Choice):
    """A kind of plant: from the list, or typed."""

    named = Signal(str)
    """Another kind of plant."""

    def __init__(self, place: int, names: Sequence[str]) -> None:
        super().__init__(f"Plant {place + 1}")
        self.setEditable(True)
        self.setInsertPolicy(Choice.InsertPolicy.NoInsert)
        self._held = ""
        self.offer_names(names)
        line, completer = self.lineEdit(), self.completer()
        assert line is not None
        line.setAccessibleName(f"Plant {place + 1}")
        line.setPlaceholderText("name or code")
        if completer is not None:
            completer.setFilterMode(Qt.MatchFlag.MatchContains)
            completer.setCompletionMode(QCompleter.CompletionMode.PopupCompletion)
        self.activated.connect(lambda _place: self._told())
        line.editingFinished.connect(self._told)

    def offer_names(self, names: Sequence[str]) -> None:
        """Offer these kinds of plants; what stands there stays."""
        self.blockSignals(True)
        self.clear()
        self.addItems(list(names))
        self.setCurrentIndex(-1)
        self.setEditText(self._held)
        self.blockSignals(False)

    def show_value(self, value: object) -> None:
        """Show a kind of plant."""
        if value != self._held:
            self._held = str(value)
            self.setEditText(self._held)
            line = self.lineEdit()
            assert line is not None
            line.setCursorPosition(0)

    def _told(self) -> None:
        text = self.currentText().strip()
        if text != self._held:
            self._held = text
            self.named.emit(text)


class MixTable(QWidget):
    """Lines of species, share and stock; says what the shares add up to."""

    changed = Signal(object)
    """Another mix, a tuple of `Kin`."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__()
        self._names = names
        self._mix: tuple[Kin, ...] = ()
        self.species: list[SpeciesField] = []
        self.shares: list[NumberField] = []
        self.stocks: list[Choice] = []
        self.removes: list[QToolButton] = []
        self._answers: list[WrappedLabel] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(4)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(0, 1)
        for column, words in enumerate(("What grows there", "Share, %", "Stock")):
            label = QLabel(words)
            label.setProperty("quiet", True)
            self._grid.addWidget(label, 0, column)
        self.total = WrappedLabel()
        self.add = QPushButton("Add a plant")
        self.even = QPushButton("Make it 100 %")
        self.even.setToolTip("Keeps the proportions of the shares and makes them add up to 100 %")
        for button, do in ((self.add, self._add), (self.even, self._even)):
            button.setAutoDefault(False)
            button.clicked.connect(do)
        self._foot = QHBoxLayout()
        self._foot.addWidget(self.add)
        self._foot.addWidget(self.even)
        self._foot.addStretch(1)

    def offer(self, names: Sequence[str]) -> None:
        """Offer these kinds of plants in every line."""
        if list(names) != list(self._names):
            self._names = list(names)
            for field in self.species:
                field.offer_names(names)

    def show_mix(self, mix: tuple[Kin, ...]) -> None:
        """Show a mix."""
        self._mix = mix
        if len(mix) != len(self.species):
            self._make(len(mix))
        for place, kin in enumerate(mix):
            self.species[place].show_value(kin.species)
            self.shares[place].show_value(round(100 * kin.share, 4))
            self.stocks[place].show_value(kin.stock)
        total = 100 * sum(kin.share for kin in mix)
        wrong = bool(mix) and abs(total - 100) > PART_OF_PERCENT
        said = (
            f"The shares add up to {percent(total)}; they must make 100 %." if wrong else "The shares add up to 100 %."
        )
        self.total.setText(said if mix else "Nothing is planted here yet.")
        self.total.setProperty("warning", wrong)
        self.total.setProperty("quiet", not wrong)
        self.total.style().unpolish(self.total)
        self.total.style().polish(self.total)
        self.even.setVisible(wrong)

    def _make(self, count: int) -> None:
        for place in range(count, len(self.species)):
            for widget in (
                self.species[place],
                self.shares[place],
                self.stocks[place],
                self.removes[place],
                self._answers[place],
            ):
                self._grid.removeWidget(widget)
                widget.hide()
                widget.deleteLater()
        for fields in (self.species, self.shares, self.stocks, self.removes, self._answers):
            del fields[count:]
        for place in range(len(self.species), count):
            self._make_line(place)
        self._grid.removeWidget(self.total)
        self._grid.removeItem(self._foot)
        self._grid.addWidget(self.total, 2 * count + 1, 0, 1, 4)
        self._grid.addLayout(self._foot, 2 * count + 2, 0, 1, 4)
        before: QWidget | None = None
        for place in range(count):
            for widget in (self.species[place], self.shares[place], self.stocks[place], self.removes[place]):
                if before is not None:
                    QWidget.setTabOrder(before, widget)
                before = widget
        for button in (self.add, self.even):
            if before is not None:
                QWidget.setTabOrder(before, button)
            before = button

    def _make_line(self, place: int) -> None:
        species = SpeciesField(place, self._names)
        share = NumberField(f"Share of plant {place + 1}", "%", 0, 100, 5)
        share.setFixedWidth(share.fontMetrics().averageCharWidth() * 6)
        stock = Choice(f"Stock of plant {place + 1}", STOCK_WORDS)
        stock.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        remove = QToolButton()
        remove.setText("×")
        remove.setAutoRaise(True)
        remove.setToolTip("Take this plant out of the mix")
        remove.setAccessibleName(f"Take plant {place + 1} out")
        answer = WrappedLabel()
        answer.setProperty("warning", True)
        answer.hide()
        species.named.connect(lambda word: self._put(place, species=word))
        share.changed.connect(lambda value: self._put(place, share=value / 100))
        share.judged.connect(lambda trouble: _answer(answer, trouble))
        stock.activated.connect(lambda _at: self._put(place, stock=stock.currentData()))
        remove.clicked.connect(lambda: self._remove(place))
        for column, widget in enumerate((species, share, stock, remove)):
            self._grid.addWidget(widget, 2 * place + 1, column)
        self._grid.addWidget(answer, 2 * place + 2, 0, 1, 4)
        self.species.append(species)
        self.shares.append(share)
        self.stocks.append(stock)
        self.removes.append(remove)
        self._answers.append(answer)

    def _put(self, place: int, **values: object) -> None:
        mix = list(self._mix)
        mix[place] = replace(mix[place], **values)  # type: ignore[arg-type]
        self.changed.emit(tuple(mix))

    def _add(self) -> None:
        left = max(1.0 - sum(kin.share for kin in self._mix), 0.0)
        stock = self._mix[-1].stock if self._mix else "seedling"
        self.changed.emit((*self._mix, Kin("", round(left, 6), stock)))
        if self.species:
            self.species[-1].setFocus()

    def _remove(self, place: int) -> None:
        self.changed.emit((*self._mix[:place], *self._mix[place + 1 :]))

    def _even(self) -> None:
        self.changed.emit(evened(self._mix))


def _answer(label: WrappedLabel, trouble: str) -> None:
    label.setText(trouble)
    label.setVisible(bool(trouble))
