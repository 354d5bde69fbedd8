"""Plants that neither the farm nor farmmap knows: named by the grower, with how they grow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QListWidget, QPushButton, QVBoxLayout, QWidget

from farmmap.farm.species import plain
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.plans.planting.recipes.recipe import PlantKind
from farmmap.window.tools.planting.draft import Draft
from farmmap.window.tools.planting.fields import Form, NumberField, Words
from farmmap.window.tools.planting.section import Section

FORMS = (("tree", "tree"), ("shrub", "shrub"), ("sedge", "sedge, rush or other low growth"))
ORIGINS = (("", "not said"), ("native", "native here"), ("introduced", "introduced"))
MOST_YEARS, MOST_CROWN_M, MOST_HEIGHT_M = 500, 60, 130
YEARS_ON = 5.0
"""A line of growth that is added is so many years after the last."""
NAMES = ("name", "code")
"""Fields that are taken once they are left, as mixes go by them."""


class GrowthTable(QWidget):
    """Lines that say how wide and high a plant is at an age."""

    changed = Signal(object)
    """Lines of (years, crown, height) [years, m, m]."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[tuple[NumberField, NumberField, NumberField]] = []
        self._lines: tuple[tuple[float, float, float], ...] = ()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(6)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(3, 1)
        self._heads = [QLabel(words) for words in ("Years old", "Crown, m", "Height, m")]
        for column, head in enumerate(self._heads):
            head.setProperty("quiet", True)
            self._grid.addWidget(head, 0, column)

    def show_lines(self, lines: tuple[tuple[float, float, float], ...]) -> None:
        """Show these lines."""
        while len(self.rows) > len(lines):
            for field in self.rows.pop():
                self._grid.removeWidget(field)
                field.hide()
                field.deleteLater()
        while len(self.rows) < len(lines):
            self._make(len(self.rows))
        self._lines = lines
        for fields, values in zip(self.rows, lines, strict=True):
            for field, value in zip(fields, values, strict=True):
                field.show_value(value)
        self.setVisible(bool(lines))

    def _make(self, place: int) -> None:
        said = (
            ("years old", "years", 0.1, MOST_YEARS),
            ("crown", "m", 0, MOST_CROWN_M),
            ("height", "m", 0, MOST_HEIGHT_M),
        )
        fields: list[NumberField] = []
        for column, (words, unit, least, most) in enumerate(said):
            field = NumberField(f"Line {place + 1}, {words}", unit, least, most, 1 if not column else 0.5)
            field.changed.connect(lambda value, column=column: self._put(place, column, value))
            field.judged.connect(field.setToolTip)
            self._grid.addWidget(field, place + 1, column)
            fields.append(field)
        self.rows.append((fields[0], fields[1], fields[2]))

    def _put(self, place: int, column: int, value: float) -> None:
        line = [*self._lines[place]]
        line[column] = value
        self._lines = (*self._lines[:place], (line[0], line[1], line[2]), *self._lines[place + 1 :])
        self.changed.emit(self._lines)


class OwnPlantsSection(Section):
    """A list of the grower's own plants, and the fields of the one that is chosen in it."""

    def __init__(self, change: Callable[[Draft], None], now: Callable[[], Draft]) -> None:
        super().__init__("Plants of your own")
        self._change, self._now = change, now
        self._place = 0
        self.note = WrappedLabel(
            "Plants that are on no list, or that you know better. They can be chosen in every zone."
        )
        self.note.setProperty("quiet", True)
        self.list = QListWidget()
        self.list.setAccessibleName("Plants of your own")
        self.list.currentRowChanged.connect(self._chosen)
        self.add, self.remove = QPushButton("Add a plant of your own"), QPushButton("Take it away")
        self.more, self.fewer = QPushButton("Say how it grows"), QPushButton("Take the last line away")
        tops, feet = QHBoxLayout(), QHBoxLayout()
        for row, button, do in (
            (tops, self.add, self._add),
            (tops, self.remove, self._remove),
            (feet, self.more, self._more),
            (feet, self.fewer, self._fewer),
        ):
            button.setAutoDefault(False)
            button.clicked.connect(do)
            row.addWidget(button)
        self.form = form = Form()
        form.add_words("name", "Na&me")
        form.add_words("code", "Short code", "Such as TOTA; the name if it is left empty")
        form.add_words("scientific", "Botanical name", below=True)
        form.add_choice("form", "It is a", FORMS, below=True)
        form.add_choice("origin", "Where the farm lies it is", ORIGINS)
        self.answer = WrappedLabel()
        self.answer.setProperty("warning", True)
        self.answer.hide()
        self.growth = GrowthTable()
        self.growth_note = WrappedLabel()
        self.growth_note.setProperty("quiet", True)
        self.source = Form()
        self.source.add_words("source", "Where these figures come from", below=True)
        self.fields = QWidget()
        inside = QVBoxLayout(self.fields)
        inside.setContentsMargins(0, 0, 0, 0)
        for widget in (form, self.answer, self.growth_note, self.growth):
            inside.addWidget(widget)
        inside.addLayout(feet)
        inside.addWidget(self.source)
        self.column.addWidget(self.note)
        self.column.addWidget(self.list)
        self.column.addLayout(tops)
        self.column.addWidget(self.fields)
        form.changed.connect(self._changed)
        self.source.changed.connect(self._changed)
        self.growth.changed.connect(self._grown)
        for name in NAMES:
            field = form.fields[name]
            assert isinstance(field, Words)
            field.editingFinished.connect(lambda name=name: self._named(name))

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        kinds = draft.recipe.plants
        self._place = min(self._place, max(len(kinds) - 1, 0))
        self.list.blockSignals(True)
        self.list.clear()
        self.list.addItems([kind.name for kind in kinds])
        self.list.setCurrentRow(self._place)
        self.list.blockSignals(False)
        self.list.setFixedHeight(min(max(len(kinds), 2), 4) * max(self.list.sizeHintForRow(0), 18) + 10)
        for widget in (self.list, self.fields, self.remove):
            widget.setVisible(bool(kinds))
        self.say(f"{len(kinds)}" if kinds else "none")
        if kinds:
            self._show_kind(kinds[self._place])

    def _show_kind(self, kind: PlantKind) -> None:
        code = "" if kind.code == kind.name else kind.code
        values: dict[str, object] = {"name": kind.name, "code": code}
        shown = {name: value for name, value in values.items() if not self.form.fields[name].hasFocus()}
        self.form.show_values(shown | {name: getattr(kind, name) for name in ("scientific", "form", "origin")})
        self.growth.show_lines(tuple(zip(kind.years, kind.crown_m, kind.height_m, strict=True)))
        self.fewer.setVisible(bool(kind.years))
        self.source.setVisible(bool(kind.years))
        self.source.show_values({"source": kind.source})
        self.more.setText("Add a line" if kind.years else "Say how it grows")
        what = dict(FORMS).get(kind.form, kind.form)
        self.growth_note.setText(
            "Between the lines it grows in a straight line, and after the last it stays as it is."
            if kind.years
            else f"General growth of a {what} is taken, which is a rough guess."
        )

    def _chosen(self, row: int) -> None:
        if row >= 0 and row != self._place:
            self._place = row
            self._answer("")
            self.show_draft(self._now())

    def _changed(self, name: str, value: object) -> None:
        if name not in NAMES:
            self._put(replace(self._kind(), **{name: value}))  # type: ignore[arg-type]

    def _named(self, name: str) -> None:
        """Take a name or a code once it is whole, unless it is empty or another plant's."""
        kinds = self._now().recipe.plants
        if self._place >= len(kinds):
            return
        kind, field = kinds[self._place], self.form.fields[name]
        assert isinstance(field, Words)
        text = field.text().strip()
        others = {plain(word) for one in kinds if one is not kind for word in (one.code, one.name)}
        if name == "name" and not plain(text):
            self._answer("Give the plant a name.")
        elif plain(text) in others:
            self._answer(f"Another plant of your own is called {text} already; choose another name.")
        else:
            self._answer("")
            if name == "name":
                self._put(replace(kind, name=text, code=text if kind.code == kind.name else kind.code))
            else:
                self._put(replace(kind, code=text or kind.name))

    def _answer(self, words: str) -> None:
        self.answer.setText(words)
        self.answer.setVisible(bool(words))

    def _grown(self, lines: tuple[tuple[float, float, float], ...]) -> None:
        kind = self._kind()
        years, crown_m, height_m = zip(*lines, strict=True) if lines else ((), (), ())
        source = "my own figures" if kind.source in {"", _general(kind).source} else kind.source
        self._put(replace(kind, years=tuple(years), crown_m=tuple(crown_m), height_m=tuple(height_m), source=source))

    def _more(self) -> None:
        kind = self._kind()
        if kind.years:
            last = kind.years[-1], kind.crown_m[-1], kind.height_m[-1]
            lines = (*zip(kind.years, kind.crown_m, kind.height_m, strict=True), (last[0] + YEARS_ON, *last[1:]))
            self._grown(lines)
        else:
            self._put(_general(kind))

    def _fewer(self) -> None:
        kind = self._kind()
        lines = tuple(zip(kind.years, kind.crown_m, kind.height_m, strict=True))[:-1]
        if lines:
            self._grown(lines)
        else:
            self._put(replace(kind, years=(), crown_m=(), height_m=(), source=""))

    def _add(self) -> None:
        kinds = self._now().recipe.plants
        taken = {plain(word) for kind in kinds for word in (kind.code, kind.name)}
        name = next(name for number in range(1, 1000) if plain(name := f"Own plant {number}") not in taken)
        self._place = len(kinds)
        self._change(self._now().with_recipe(plants=(*kinds, PlantKind(name, name))))
        field = self.form.fields["name"]
        field.setFocus()
        assert isinstance(field, Words)
        field.selectAll()

    def _remove(self) -> None:
        at, self._place = self._place, max(self._place - 1, 0)
        self._change(self._now().without_kind(at))

    def _kind(self) -> PlantKind:
        return self._now().recipe.plants[self._place]

    def _put(self, kind: PlantKind) -> None:
        if kind != self._kind():
            self._change(self._now().with_kind(self._place, kind))


def _general(kind: PlantKind) -> PlantKind:
    """Return the kind with the general growth of its form."""
    from farmmap.plans.planting.recipes.kinds import with_growth

    return with_growth(replace(kind, years=()))
