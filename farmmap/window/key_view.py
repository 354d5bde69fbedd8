"""The key, which lies on the map and is also how things are shown and hidden."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QRectF, QSize, Qt
from PySide6.QtGui import QIcon, QPainter, QPixmap
from PySide6.QtWidgets import QCheckBox, QFrame, QGridLayout, QLabel, QScrollArea, QToolButton, QVBoxLayout, QWidget

from farmmap.window.map_contents import MapContents
from farmmap.window.map_view import MapView
from farmmap.window.session import Session
from farmmap.window.status_line import in_threes

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    from farmmap.scene.scene import KeyEntry, Sample
    from farmmap.scene.styles import Theme

EDGE_PX = 10
"""Kept free between the key and the edge of the map. [px]"""
MOST_OF_MAP = 0.75
"""How much of the map's height the key may take; the rest is scrolled to."""
MOST_OF_WORK = 0.3
"""How much of the map's width the key may take while the map is worked on."""
PLAN_HEAD = "fence of the plan"
_SPECIES = "species:"


class KeyView(QFrame):
    """One line for each kind of thing on the map: a tick, a sample, its name and how many there are."""

    def __init__(self, session: Session, contents: MapContents, map_view: MapView) -> None:
        super().__init__(map_view)
        self._map_view = map_view
        self._session, self._contents = session, contents
        self._of_tool: tuple[KeyEntry, ...] = ()
        self._lines: tuple[tuple[str, str], ...] = ()
        self.ticks: dict[str, QCheckBox] = {}
        self._icons: dict[str, QCheckBox | QLabel] = {}
        self._counts: dict[str, QLabel] = {}
        self._looks: dict[str, tuple[object, ...]] = {}
        self.setAutoFillBackground(True)
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAccessibleName("Key")
        self.setCursor(Qt.CursorShape.ArrowCursor)
        self.fold = QToolButton()
        self.fold.setCheckable(True)
        self.fold.setChecked(True)
        self.fold.setAutoRaise(True)
        self.fold.setProperty("plain", True)
        self.fold.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.fold.setText("Key")
        self.fold.setToolTip("Open or fold the key. Untick a line to take it off the map.")
        self.fold.toggled.connect(self._fold)
        self._grid = QGridLayout()
        self._scroll = QScrollArea()
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        column = QVBoxLayout(self)
        column.setContentsMargins(2, 2, 2, 2)
        column.setSpacing(2)
        column.addWidget(self.fold)
        column.addWidget(self._scroll, 1)
        self._fold(True)
        map_view.installEventFilter(self)
        map_view.key_changed.connect(self._tool_changed)
        self.follow()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Stay in the corner of the map when that changes its size."""
        if event.type() == QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    def step_aside(self, aside: bool) -> None:
        """Fold when the map is worked on if much of it is covered; it is opened again by a click only."""
        if aside and self.fold.isChecked() and self.width() > MOST_OF_WORK * self._map_view.width():
            self.fold.setChecked(False)

    def _tool_changed(self) -> None:
        tool = self._map_view.tool
        of_tool = () if tool is None else tool.key()
        if of_tool != self._of_tool:
            self._of_tool = of_tool
            self.follow()

    def _fold(self, shown: bool) -> None:
        self.fold.setArrowType(Qt.ArrowType.DownArrow if shown else Qt.ArrowType.RightArrow)
        self._scroll.setVisible(shown)
        self._place()

    def follow(self) -> None:
        """Show the key of what is on the map now."""
        now = self._contents.now
        self.setVisible(now is not None and bool(now.scene.key))
        if now is None:
            return
        entries = (*self._of_tool, *now.scene.key)
        lines = tuple((entry.layer, entry.words) for entry in entries)
        if lines != self._lines:
            self._lines = lines
            self._build(entries)
        self._update(entries, now.scene.theme)
        self._place()

    def _build(self, entries: tuple[KeyEntry, ...]) -> None:
        focused = next((layer for layer, tick in self.ticks.items() if tick.hasFocus()), None)
        rows = QWidget()
        self._grid = QGridLayout(rows)
        self._grid.setContentsMargins(8, 0, 10, 6)
        self._grid.setHorizontalSpacing(12)
        self._grid.setVerticalSpacing(3)
        self.ticks, self._icons, self._counts, self._looks = {}, {}, {}, {}
        if self._of_tool:
            self._grid.addWidget(QLabel(PLAN_HEAD), self._grid.rowCount(), 0)
        for entry in self._of_tool:
            self._add_line(f"{entry.layer}/{entry.words}", entry.words, 0)
            self._add_count(f"{entry.layer}/{entry.words}", self._grid.rowCount() - 1)
        if any(entry.layer.startswith(_SPECIES) for entry in entries):
            self._add_tick("trees", "trees", 0)
        for entry in entries[len(self._of_tool) :]:
            indent = 1 if entry.layer.startswith(_SPECIES) or entry.layer in self.ticks else 0
            name = f"{entry.layer}/{entry.words}"
            if entry.layer in self.ticks:
                self._add_line(name, entry.words, indent)
            else:
                self._icons[name] = self._add_tick(entry.layer, entry.words, indent)
            self._add_count(name, self._grid.rowCount() - 1)
        self._scroll.setWidget(rows)
        if focused in self.ticks:
            self.ticks[focused].setFocus()

    def _add_tick(self, layer: str, words: str, indent: int) -> QCheckBox:
        tick = QCheckBox(words)
        tick.setChecked(layer not in self._session.hidden)
        tick.setToolTip(f"Show or hide {words} on the map")
        tick.setProperty("indented", bool(indent))
        tick.toggled.connect(lambda shown, layer=layer: self._session.show_layer(layer, shown))
        row = self._grid.rowCount()
        self._grid.addWidget(tick, row, 0)
        self.ticks[layer] = tick
        return tick

    def _add_line(self, name: str, words: str, indent: int) -> None:
        row = self._grid.rowCount()
        holder = QWidget()
        line = QGridLayout(holder)
        line.setContentsMargins(14 * indent + 20, 0, 0, 0)
        line.setHorizontalSpacing(5)
        icon = QLabel()
        line.addWidget(icon, 0, 0)
        line.addWidget(QLabel(words), 0, 1)
        line.setColumnStretch(1, 1)
        self._grid.addWidget(holder, row, 0)
        self._icons[name] = icon

    def _add_count(self, name: str, row: int) -> None:
        label = QLabel()
        label.setProperty("quiet", True)
        label.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._grid.addWidget(label, row, 1)
        self._counts[name] = label

    def _update(self, entries: tuple[KeyEntry, ...], theme: Theme) -> None:
        for layer, tick in self.ticks.items():
            tick.blockSignals(True)
            tick.setChecked(layer not in self._session.hidden)
            tick.setEnabled(not (layer.startswith(_SPECIES) and "trees" in self._session.hidden))
            tick.blockSignals(False)
        size = self._sample_size()
        for entry in entries:
            name = f"{entry.layer}/{entry.words}"
            self._counts[name].setText("" if entry.count is None else in_threes(entry.count))
            looks = entry.sample, theme.name, size.height(), self.devicePixelRatioF()
            if self._looks.get(name) == looks:
                continue
            self._looks[name] = looks
            picture = self._picture(entry.sample, theme, size)
            widget = self._icons[name]
            if isinstance(widget, QCheckBox):
                widget.setIcon(QIcon(picture))
                widget.setIconSize(size)
            else:
                widget.setPixmap(picture)

    def _sample_size(self) -> QSize:
        height = self.fontMetrics().height()
        return QSize(round(height * 1.9), height)

    def _picture(self, sample: Sample, theme: Theme, size: QSize) -> QPixmap:
        from farmmap.drawing.symbol_painter import paint_sample

        ratio = self.devicePixelRatioF()
        picture = QPixmap(size * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        paint_sample(painter, QRectF(0, 0, size.width(), size.height()), sample, theme, self.logicalDpiX() / 25.4)
        painter.end()
        return picture

    def _place(self) -> None:
        room = round((self._map_view.height() - 2 * EDGE_PX) * MOST_OF_MAP)
        bar = self._scroll.verticalScrollBar().sizeHint().width()
        head = self.fold.sizeHint().height() + 8
        wide = self.fold.sizeHint().width() + 12
        high = head
        if self.fold.isChecked():
            wanted = self._grid.sizeHint()
            wide, high = max(wide, wanted.width() + 8), head + wanted.height() + 4
            if high > room:
                wide += bar
        high = min(high, max(room, head))
        self.setGeometry(EDGE_PX, self._map_view.height() - high - EDGE_PX, wide, high)
        self._map_view.keep_free(wide + EDGE_PX if self.fold.isChecked() and not self.isHidden() else 0)
