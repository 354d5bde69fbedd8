"""What comes of a plan: figures, cover over the years, what to order, what it costs, and what to look out for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt, QTimer
from PySide6.QtGui import QIcon, QPainter, QPixmap, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QGridLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from farmmap.panels.line_chart import LineChart, Reading
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.tools.planting.plan_words import about_figures, costs_in_words, figures_of
from farmmap.window.tools.planting.section import Section

if TYPE_CHECKING:
    from farmmap.plans.planting.outcome.order import Bought
    from farmmap.scene.styles import Theme
    from farmmap.window.tools.planting.workings import Outlook, Sketched, Worked

ICON_PX = 18
CAUTIONS = (
    "Widths by rule are a guide: check your local code.",
    "Work in or beside a creek may need a permit; ask before machines go near it.",
    "Keep sprays away from water: read the label, and leave the strip beside the creek unsprayed.",
    "Ask before you clear or spray native plants that grow there already: they may be protected.",
    "A map to work by, not a survey: peg the line and look before you plant or fence.",
)


class Figures(QWidget):
    """Names and figures in two columns."""

    def __init__(self) -> None:
        super().__init__()
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setVerticalSpacing(2)
        self._grid.setColumnStretch(0, 1)
        self.values: dict[str, QLabel] = {}
        self._names: list[str] = []

    def show_figures(self, figures: Sequence[tuple[str, str]]) -> None:
        """Show figures by their names."""
        names = [name for name, _ in figures]
        if names != self._names:
            self._make(names)
        for name, value in figures:
            label = self.values[name]
            if label.text() != value:
                label.setText(value)
                label.setAccessibleName(f"{name}: {value}")

    def _make(self, names: list[str]) -> None:
        while self._grid.count():
            item = self._grid.takeAt(0)
            widget = None if item is None else item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._names, self.values = names, {}
        for row, name in enumerate(names):
            words = QLabel(name)
            words.setProperty("quiet", True)
            words.setWordWrap(True)
            value = QLabel()
            value.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            value.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            self._grid.addWidget(words, row, 0)
            self._grid.addWidget(value, row, 1)
            self.values[name] = value


class PlainTable(QTableWidget):
    """A table to read, as high as its rows, that leaves Tab and the wheel to the box.

    Parameters
    ----------
    name : str
        What it is called, for screen readers.
    heads : sequence of str
        Heads of its columns.
    words : sequence of int
        Columns that hold words, which begin at the left; the last of them takes the room that is left. Others hold
        figures.
    """

    def __init__(self, name: str, heads: Sequence[str], words: Sequence[int] = (0,)) -> None:
        super().__init__(0, len(heads))
        self._words = frozenset(words)
        self.setHorizontalHeaderLabels(list(heads))
        self.setAccessibleName(name)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setTabKeyNavigation(False)
        self.setIconSize(QSize(ICON_PX, ICON_PX))
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(max(self._words), QHeaderView.ResizeMode.Stretch)
        self._fit = QTimer(self)  # words are wrapped anew once columns have their widths
        self._fit.setSingleShot(True)
        self._fit.setInterval(0)
        self._fit.timeout.connect(self._take_height)
        header.sectionResized.connect(lambda _place, _before, _now: self._fit.start())

    def show_rows(self, rows: Sequence[Sequence[str]], icons: Sequence[QIcon] = ()) -> None:
        """Show rows of words, with a picture before each if there are any."""
        self.setRowCount(len(rows))
        for place, row in enumerate(rows):
            for column, words in enumerate(row):
                item = self.item(place, column)
                if item is None:
                    item = QTableWidgetItem()
                    if column not in self._words:
                        item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                    self.setItem(place, column, item)
                item.setText(words)
                item.setToolTip(words)
                if not column and icons:
                    item.setIcon(icons[place])
        self._take_height()
        self.setVisible(bool(rows))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Take the height that the rows need at this width."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._take_height()

    def _take_height(self) -> None:
        self.resizeRowsToContents()
        high = sum(self.rowHeight(place) for place in range(self.rowCount()))
        self.setFixedHeight(high + self.horizontalHeader().sizeHint().height() + 4)


class ResultSection(Section):
    """All that follows from the plan."""

    def __init__(self) -> None:
        super().__init__("What comes of it")
        self.figures = Figures()
        self.chart = LineChart("Cover of the margin", "%")
        self.chart.setMinimumHeight(self.fontMetrics().height() * 11)
        self.orders = PlainTable("What to order", ("Plant and stock", "In the ground", "To order"))
        self.costs = PlainTable("What it costs", ("", "All", "Grant", "In kind", "You"))
        self.zones = PlainTable("Zones", ("Zone", "ha", "Plants", "A hectare"))
        self.months = PlainTable("What to do when", ("When", "What to do"), words=(0, 1))
        self.months_notes = WrappedLabel()
        self.months_notes.setProperty("quiet", True)
        self.change = PlainTable("Before and after", ("Along the creek", "Bank", "Today", "Then"))
        self.change_notes = WrappedLabel()
        self.change_notes.setProperty("quiet", True)
        self.notes = WrappedLabel()
        self.notes.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.cautions = WrappedLabel("\n".join(f"• {words}" for words in CAUTIONS))
        self.column.addWidget(self.figures)
        self._add("Cover to come, by crowns", self.chart)
        self._add("Before and after", self.change)
        self.column.addWidget(self.change_notes)
        self._add("Zones", self.zones)
        self._add("What to order", self.orders)
        self._add("What it costs, rounded", self.costs)
        self._add("What to do when", self.months)
        self.column.addWidget(self.months_notes)
        self._add("To look at", self.notes)
        self._add("Before you begin", self.cautions)

    def show_worked(self, worked: Worked, theme: Theme) -> None:
        """Show a plan."""
        from farmmap.plans.planting.outcome.order import bought

        self.figures.show_figures(figures_of(worked, None))
        self._dim((self.orders, self.costs, self.zones, self.months), of_last=False)
        self._dim((self.change,), of_last=True)
        if not self.is_open:
            return
        kinds = bought(worked.plan.recipe, worked.orders)
        named = worked.kinds.find
        rows = [
            (f"{_name(named(one.species), one.species)}\n{one.stock}", f"{one.plants:,}", _ordered(one))
            for one in kinds
        ]
        self.orders.show_rows(
            rows, _plant_icons(worked, [one.species for one in kinds], theme, self.devicePixelRatioF())
        )
        self.costs.show_rows(costs_in_words(worked.costs))
        self.zones.show_rows(_zone_rows(worked), _zone_icons(worked, theme, self.devicePixelRatioF()))
        self._show_months(worked)
        notes = [*worked.plan.notes, *worked.costs.notes]
        self.notes.setText("\n".join(f"• {note}" for note in notes) or "Nothing.")

    def show_about(self, sketch: Sketched) -> None:
        """Show about-figures in the places of those that are on their way, and dots where there are none yet."""
        about = about_figures(sketch)
        self.say(f"{about['Plants']} plants")
        self._dim((self.orders, self.costs, self.zones, self.months, self.change), of_last=True)
        if self.is_open:
            self.figures.show_figures([(name, about.get(name, "…")) for name in self.figures.values])

    def show_outlook(self, outlook: Outlook, year: int) -> None:
        """Show what will come of it, and the year that is looked at."""
        first = dt.datetime.now().astimezone().date().replace(month=7, day=1)
        readings = [
            Reading(_after(first, int(when)), value, f"{value:.0f} % after {int(when)} years")
            for when, value in zip(outlook.cover.years, outlook.cover.cover_percent, strict=True)
        ]
        self.chart.show_readings(
            "Cover of the margin, planted this year", readings, _after(first, year), "No cover yet."
        )
        if outlook.change is not None:
            what, bank, today, then, _ = outlook.change.heads
            self.change.setHorizontalHeaderLabels([what, bank, today, then.replace(" ", "\n", 1)])
            self.change.show_rows([(*row[:2], *_with_unit(row[2:4], row[4])) for row in outlook.change.as_words()])
            self.change_notes.setText("\n".join(outlook.change.notes))
            self._dim((self.change,), of_last=False)

    def _dim(self, tables: Sequence[PlainTable], *, of_last: bool) -> None:
        """Grey tables that are those of the last plan still; not the one that is being read by the keyboard."""
        for table in tables:
            table.setEnabled(not of_last or table.hasFocus())

    def _show_months(self, worked: Worked) -> None:
        from farmmap.plans.planting.outcome.months import calendar, latitude_deg

        found = calendar(worked.plan, worked.orders, latitude_deg(worked.farm, worked.plan))
        self.months.show_rows([(work.when.replace(", ", "\n", 1), work.what) for work in found.works])
        self.months_notes.setText("\n".join(found.notes))
        self.months_notes.setVisible(bool(found.notes))

    def _add(self, words: str, widget: QWidget) -> None:
        head = QLabel(words)
        head.setProperty("heading", True)
        head.setBuddy(widget)
        line = QFrame()
        line.setFrameShape(QFrame.Shape.HLine)
        self.column.addWidget(line)
        self.column.addWidget(head)
        self.column.addWidget(widget)


def _with_unit(values: Sequence[str], unit: str) -> tuple[str, ...]:
    return tuple(f"{value} {unit}" if value[:1].isdigit() else value for value in values)


def _after(day: dt.date, years: int) -> dt.date:
    return day.replace(year=day.year + years)


def _ordered(one: Bought) -> str:
    return f"{one.to_order:,}\n{one.packs_in_words}" if one.pack > 1 else f"{one.to_order:,}"


def _name(kind: object, word: str) -> str:
    return word if kind is None else str(getattr(kind, "name", "") or word)


def _zone_rows(worked: Worked) -> list[tuple[str, str, str, str]]:
    plan = worked.plan
    rows: list[tuple[str, str, str, str]] = []
    for place, zone in enumerate(plan.recipe.zones):
        strips = [at for at, strip in enumerate(plan.strips) if strip.zone == place]
        area = sum(plan.strips[at].area_m2 for at in strips) / 10_000
        plants = sum(int((plan.plants.strip == at).sum()) for at in strips)
        rate = f"{plants / area:,.0f}" if area > 0 else "–"
        rows.append((zone.name, f"{area:.3f}", f"{plants:,}", rate))
    return rows


def _plant_icons(worked: Worked, species: Sequence[str], theme: Theme, ratio: float) -> list[QIcon]:
    from farmmap.drawing.planting_painter import paint_plant_sample

    symbols = {symbol.code: symbol for symbol in worked.picture.symbols}
    icons: list[QIcon] = []
    for word in species:
        symbol = symbols.get(worked.kinds.code_and_name(word)[0])
        pixmap, painter = _blank(ratio)
        if symbol is not None:
            paint_plant_sample(painter, QRectF(1, 1, ICON_PX - 2, ICON_PX - 2), symbol, theme)
        painter.end()
        icons.append(QIcon(pixmap))
    return icons


def _zone_icons(worked: Worked, theme: Theme, ratio: float) -> list[QIcon]:
    from farmmap.drawing.planting_painter import paint_zone_sample

    icons: list[QIcon] = []
    for zone in worked.picture.zones:
        pixmap, painter = _blank(ratio)
        paint_zone_sample(painter, QRectF(1, 1, ICON_PX - 2, ICON_PX - 2), zone, theme)
        painter.end()
        icons.append(QIcon(pixmap))
    return icons


def _blank(ratio: float) -> tuple[QPixmap, QPainter]:
    pixmap = QPixmap(round(ICON_PX * ratio), round(ICON_PX * ratio))
    pixmap.setDevicePixelRatio(ratio)
    pixmap.fill(Qt.GlobalColor.transparent)
    return pixmap, QPainter(pixmap)
