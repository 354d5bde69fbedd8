"""The box in which the tape's readings are typed: tag, Enter, diameter, Enter, next tree."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QDate, QEvent, QObject, QRectF, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QDateEdit,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from farmmap.errors import BadInput
from farmmap.progress import Progress
from farmmap.window.tape_entry import Entry, increment_words, last_diameter
from farmmap.window.tools.sentences import sentence, words_of_error

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm
    from farmmap.window.tools.bench import Bench

MOST_ENTRIES = 4
"""How many of the last entries are listed."""
EDGE_PX = 10


class TapeBox(QFrame):
    """Lies on the map; wrong tags and hardly believable readings are answered in place.

    Parameters
    ----------
    bench : Bench
        Where edits go, and what map it lies on.
    """

    def __init__(self, bench: Bench) -> None:
        super().__init__(bench.map_view)
        self._bench = bench
        self.tree: int | None = None
        """The tree that is being measured."""
        self.stem = 1
        self._several: list[int] = []
        self._doubted: Entry | None = None
        self.entries: list[str] = []
        """The last entries in words, the newest first."""
        self.setAutoFillBackground(True)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAccessibleName("Tape")
        self.setCursor(Qt.CursorShape.ArrowCursor)
        self._make()
        bench.map_view.installEventFilter(self)
        self.hide()

    # For the tool

    def open(self, tree: int | None) -> None:
        """Come up, with a tree if there is one."""
        self._put_tags_in_order()
        self.show()
        self.raise_()
        if tree is not None:
            self.take_tree(tree)
        else:
            self._place()

    def take_focus(self) -> None:
        """Let the keyboard write into the field that comes next."""
        field = self.tag if self.tree is None else self.dbh
        field.setFocus(Qt.FocusReason.OtherFocusReason)
        field.selectAll()

    def take_tree(self, tree: int) -> None:
        """Measure this tree."""
        farm = self._bench.farm
        if farm is not None and tree in farm.trees.index:
            self._let_go_of_doubt()
            self.tag.setText(str(farm.trees["tag"].loc[tree]))
            self._several = []
            self._show_tree(tree)

    def farm_changed(self) -> None:
        """Forget a tree that is gone."""
        farm = self._bench.farm
        if self.tree is not None and (farm is None or self.tree not in farm.trees.index):
            self.tree = None
            self._say("That tree is gone.", warning=True)
            self._bench.guide()

    def close_for_good(self) -> None:
        """Be done."""
        self._bench.map_view.removeEventFilter(self)
        self.hide()
        self.deleteLater()

    def tree_lines(self) -> list[str]:
        """Return what is known of the tree: tag, species, and the last diameter."""
        farm = self._bench.farm
        if farm is None or self.tree is None or self.tree not in farm.trees.index:
            return []
        from farmmap.editing.words import day_words, own_name

        code = str(farm.trees["species"].loc[self.tree])
        named = farm.species["name"][(farm.species["code"] == code).to_numpy(bool)]
        species = str(named.iloc[0]) if len(named) and named.iloc[0] else code
        lines = [own_name(farm, "trees", self.tree) + (f", {species}" if species else "")]
        last = last_diameter(farm, self.tree, self.stem, self.day())
        if last is not None:
            lines.append(f"{last[1]:g} cm on {day_words(last[0])}")
        return lines

    def day(self) -> dt.date:
        """Return the day of the readings."""
        date = self.date.date()
        return dt.date(date.year(), date.month(), date.day())

    # How it is put together

    def _make(self) -> None:
        self.date = QDateEdit(QDate.currentDate())
        self.date.setDisplayFormat("d MMMM yyyy")
        self.date.setMaximumDate(QDate.currentDate())
        self.date.setToolTip("Day of all readings; it stays until it is changed")
        self._make_fields()
        self.stem_words = QLabel()
        self.stem_words.setProperty("quiet", True)
        self.answer = QLabel()
        self.answer.setWordWrap(True)
        self.answer.setTextFormat(Qt.TextFormat.PlainText)
        self.keep = QPushButton("Keep")
        self.again = QPushButton("Type again")
        self.list = QLabel()
        self.list.setTextFormat(Qt.TextFormat.PlainText)
        self.list.setProperty("quiet", True)
        self.list.setWordWrap(True)
        self.list.setAccessibleName("Last entries")
        grid = QGridLayout()
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(4)
        lines: tuple[tuple[str, QWidget, str], ...] = (
            ("&Date", self.date, ""),
            ("&Tag", self.tag, ""),
            ("Dia&meter", self.dbh, "cm"),
            ("&Height", self.height_field, "m"),
            ("&Pruned to", self.pruned, "m"),
            ("&Over stubs", self.stubs, "cm"),
        )
        for row, (words, field, unit) in enumerate(lines):
            label = QLabel(words)
            label.setBuddy(field)
            grid.addWidget(label, row, 0)
            if field is self.date:
                grid.addWidget(field, row, 1, 1, 2)  # a long month needs all of the width
                continue
            grid.addWidget(field, row, 1)
            grid.addWidget(self.stem_words if field is self.tag else QLabel(unit), row, 2)
        grid.setColumnStretch(1, 1)
        buttons = QHBoxLayout()
        for button in (self.again, self.keep):
            button.setAutoDefault(True)
            button.hide()
            buttons.addWidget(button)
        buttons.addStretch(1)
        self._column = column = QVBoxLayout(self)
        column.setContentsMargins(10, 8, 10, 8)
        column.setSpacing(6)
        column.addLayout(grid)
        column.addWidget(self.answer)
        column.addLayout(buttons)
        column.addWidget(self.list)
        self.tag.returnPressed.connect(self._tag_entered)
        self.tag.textEdited.connect(self._tag_edited)
        for field in self._readings:
            field.returnPressed.connect(self._reading_entered)
            field.textEdited.connect(self._let_go_of_doubt)
        self.keep.clicked.connect(self._keep)
        self.again.clicked.connect(self._type_again)
        self.setFixedWidth(max(self.fontMetrics().averageCharWidth() * 38, column.sizeHint().width()))
        self._say("Type a tag, then Enter.")

    def _make_fields(self) -> None:
        self.tag = _field("Tag", "Tag of the tree, then Enter")
        self.dbh = _field("Diameter in cm", "Diameter at breast height over bark, then Enter")
        self.height_field = _field("Height in m", "Height, if it was taken")
        self.pruned = _field("Pruned to, in m", "Height to which it is pruned, if it was taken")
        self.stubs = _field(
            "Over stubs, in cm", "Largest diameter over the stubs of the lift just pruned, if it was read"
        )
        self._readings = (self.dbh, self.height_field, self.pruned, self.stubs)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Stay in the corner of the map when that changes its size."""
        if event.type() == QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """End with Escape; Escape on a doubted reading types it again."""
        if event.key() == Qt.Key.Key_Escape:
            if self._doubted is not None:
                self._type_again()
            else:
                self._bench.lay_down()
        elif event.key() == Qt.Key.Key_K and self._doubted is not None:
            self._keep()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()  # a field has taken it
        else:
            super().keyPressEvent(event)

    def _place(self) -> None:
        high = self._column.totalHeightForWidth(self.width())
        view = self._bench.map_view
        self.resize(self.width(), min(high, view.height() - 2 * EDGE_PX))
        self.move(view.width() - self.width() - EDGE_PX, EDGE_PX)

    def _say(self, words: str, *, warning: bool = False) -> None:
        self.answer.setText(words)
        self.answer.setProperty("warning", warning)
        self.answer.setProperty("quiet", not warning)
        self.answer.style().unpolish(self.answer)
        self.answer.style().polish(self.answer)
        for field in (self.tag, self.dbh):
            field.setAccessibleDescription(words)
        if self.isVisible():
            self._place()

    # Tags

    def _tag_edited(self) -> None:
        self.tree, self._several, self.stem = None, [], 1
        self.stem_words.clear()
        self._let_go_of_doubt()
        self._bench.guide()

    def _tag_entered(self) -> None:
        from farmmap.editing.tape_entry import trees_with_tag

        farm, tag = self._bench.farm, self.tag.text().strip()
        if farm is None:
            return
        if not tag:
            self._say("Type the tag that is on the tree.", warning=True)
            return
        if len(self._several) > 1 and self.tree is not None:
            place = (self._several.index(self.tree) + 1) % len(self._several)
            self._show_tree(self._several[place])
            self._say_several(place)
            return
        found = [int(id_) for id_ in trees_with_tag(farm, tag)]
        if not found:
            self._say(f"No tree has the tag {tag}. Type it again, or click the tree on the map.", warning=True)
            self.tag.selectAll()
            return
        self._show_tree(found[0])
        if len(found) > 1:
            self._several = found
            self._say_several(0)
        else:
            self.take_focus()

    def _say_several(self, place: int) -> None:
        self._say(
            f"{len(self._several)} trees have this tag; number {place + 1} is shown. Enter shows the next; "
            "Tab goes on with this one.",
            warning=True,
        )

    def _show_tree(self, tree: int) -> None:
        farm = self._bench.farm
        assert farm is not None
        self.tree, self.stem = tree, 1
        self._bench.picks.pick([("trees", tree)])
        self._bench.map_view.go_to(float(farm.trees["x"].loc[tree]), float(farm.trees["y"].loc[tree]))
        self._show_stem()
        self._keep_in_sight(tree)
        for field in self._readings:
            field.setText("")  # unlike clear(), it cannot be taken back into the next tree

    def _show_stem(self) -> None:
        farm = self._bench.farm
        assert farm is not None
        assert self.tree is not None
        stems = int(farm.trees["stems"].loc[self.tree])
        self.stem_words.setText(f"stem {self.stem} of {stems}" if stems > 1 else "")
        self._say("\n".join(self.tree_lines()))
        self._bench.guide()

    def _keep_in_sight(self, tree: int) -> None:
        """Push the map aside if the box lies over the tree."""
        farm, view = self._bench.farm, self._bench.map_view
        assert farm is not None
        if view.view is None:
            return
        place = view.place_of(float(farm.trees["x"].loc[tree]), float(farm.trees["y"].loc[tree]))
        if QRectF(self.geometry()).adjusted(-40, -40, 40, 40).contains(place):
            view.pan(self.x() / 2 - place.x(), view.height() / 2 - place.y())

    # Readings

    def _reading_entered(self) -> None:
        if self._doubted is not None:
            self._type_again()
            return
        farm = self._bench.farm
        if farm is None:
            return
        if self.tree is None:
            self._say("Type the tag first, then Enter.", warning=True)
            self.tag.setFocus()
            return
        entry = Entry(self.tree, self.stem, self.day(), *(field.text() for field in self._readings))
        try:
            proposed = entry.proposed(farm)
        except BadInput as error:
            self._say(sentence(str(error)), warning=True)
            self.dbh.selectAll()
            return
        if proposed.notes:
            self._doubt(entry, proposed.notes)
        else:
            self._write(entry)

    def _doubt(self, entry: Entry, notes: tuple[str, ...]) -> None:
        self._doubted = entry
        self.keep.setText(f"&Keep {entry.dbh_cm.strip() or 'it'}")
        for button in (self.keep, self.again):
            button.show()
        self._say(" ".join(sentence(note) for note in notes), warning=True)
        self.again.setFocus(Qt.FocusReason.OtherFocusReason)

    def _let_go_of_doubt(self) -> None:
        if self._doubted is not None:
            self._doubted = None
            for button in (self.keep, self.again):
                button.hide()
            self._say("\n".join(self.tree_lines()))

    def _keep(self) -> None:
        entry = self._doubted
        self._let_go_of_doubt()
        if entry is not None:
            self._write(entry)

    def _type_again(self) -> None:
        self._let_go_of_doubt()
        self.dbh.setFocus(Qt.FocusReason.OtherFocusReason)
        self.dbh.selectAll()

    def _write(self, entry: Entry) -> None:
        farm = self._bench.farm
        assert farm is not None
        grown = increment_words(farm, entry)

        def make(farm: Farm) -> Proposed:
            return replace(entry.proposed(farm), notes=())  # they were answered here

        def written(proposed: Proposed) -> None:
            self.entries.insert(0, f"{proposed.edit.name.removeprefix('Measure ')}{grown}")
            del self.entries[MOST_ENTRIES:]
            self.list.setText("\n".join(self.entries))
            self._place()

        def refused(error: BaseException) -> None:
            self._say(f"Not written. {words_of_error(error)}", warning=True)

        self._bench.propose(make, (), written, refused)
        self._go_on(farm, entry)

    def _put_tags_in_order(self) -> None:
        """Have the tags put in their order in the background, which takes seconds where there are a million."""
        farm = self._bench.farm

        def put(_progress: Progress) -> None:
            from farmmap.editing.tape_entry import next_tag

            assert farm is not None
            next_tag(farm, "")  # it is remembered

        if farm is not None:
            self._bench.jobs.start("tags", put, lambda _answer: None, owner=self)

    def _go_on(self, farm: Farm, entry: Entry) -> None:
        """Go to the next stem, else to the next tree."""
        from farmmap.editing.tape_entry import next_tag

        for field in self._readings:
            field.setText("")  # unlike clear(), it cannot be taken back into the next tree
        if entry.stem < int(farm.trees["stems"].loc[entry.tree]):
            self.stem = entry.stem + 1
            self._show_stem()
            self.dbh.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        following = next_tag(farm, str(farm.trees["tag"].loc[entry.tree]))
        self.tree, self.stem, self._several = None, 1, []
        self.stem_words.clear()
        self.tag.setText(following)
        self._say("Enter takes the next tag; or type another." if following else "That was the last tag.")
        self.tag.setFocus(Qt.FocusReason.OtherFocusReason)
        self.tag.selectAll()
        self._bench.guide()


class ReadingField(QLineEdit):
    """A field that leaves the keys of Undo and Redo to the window where nothing typed in it can be taken back."""

    def event(self, event: QEvent) -> bool:
        """Let go of the keys."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            undo, redo = (
                event.matches(keys) for keys in (QKeySequence.StandardKey.Undo, QKeySequence.StandardKey.Redo)
            )
            if (undo and not self.isUndoAvailable()) or (redo and not self.isRedoAvailable()):
                event.ignore()
                return False
        return super().event(event)


def _field(words: str, tip: str) -> ReadingField:
    field = ReadingField()
    field.setAccessibleName(words)
    field.setToolTip(tip)
    return field
