"""How many trees of which species are ready in which year: bars over the years, a colour and letter a species."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPalette
from PySide6.QtWidgets import QWidget

from farmmap.panels.chart import ALIGN, Chart, ink_on, round_ticks
from farmmap.scene.symbols import OKABE_ITO, UNKNOWN_COLOUR, SpeciesSymbol

MOST_BARS = 25
"""Years that have a bar each; over more of them five years share one."""

FAR_YEARS = 60
"""Years that the bars reach at most; the table goes on."""

PERIOD_YEARS = 5
OTHERS = "others"


@dataclass(frozen=True)
class Part:
    """Trees of one species in a bar."""

    name: str
    count: int
    colour: str
    letter: str


@dataclass(frozen=True)
class Stack:
    """Trees ready from a year on, so many years long, the commonest species of all at the bottom."""

    year: int
    years: int
    parts: tuple[Part, ...]

    @property
    def height(self) -> int:
        """All of its trees."""
        return sum(part.count for part in self.parts)

    @property
    def words(self) -> str:
        """What it says."""
        when = str(self.year) if self.years == 1 else f"{self.year} to {self.year + self.years - 1}"
        return f"{when}: " + ", ".join(f"{part.name} {part.count}" for part in self.parts)


def stacks_of(
    rows: Sequence[Mapping[str, Any]], this_year: int, symbols: Mapping[str, SpeciesSymbol]
) -> tuple[Stack, ...]:
    """Return the bars of a calendar; trees that are ready now stand in this year's.

    Seven species have a colour of their own, that of the map where no commoner
    one has it; the rest are others.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of `farmmap.figures.growth.outlook_farm.farm_outlook`, a year each.
    this_year : int
        Year of the outlook.
    symbols : mapping of str to SpeciesSymbol
        Symbols of the map by code of the species.
    """
    dated = [(int(row["ready_year"] or this_year), row) for row in rows if row["ready_by"] is not None]
    dated = [(year, row) for year, row in dated if year < this_year + FAR_YEARS]
    if not dated:
        return ()
    years = 1 if max(year for year, _ in dated) - this_year < MOST_BARS else PERIOD_YEARS
    totals: Counter[str] = Counter()
    for _, row in dated:
        totals[row["code"]] += row["ready_trees"]
    names = {row["code"]: str(row["species"]) for _, row in dated}
    drawn = _drawn(totals, names, symbols)
    counts: dict[int, Counter[str]] = {}
    for year, row in dated:
        start = max(year - year % years, this_year)
        counts.setdefault(start, Counter())[row["code"] if row["code"] in drawn else OTHERS] += row["ready_trees"]
    order = [*drawn, OTHERS]
    other = (OTHERS, UNKNOWN_COLOUR, "")
    return tuple(
        Stack(
            start,
            years - start % years,
            tuple(
                Part(name, counts[start][code], colour, letter)
                for code in order
                if counts[start][code]
                for name, colour, letter in [drawn.get(code, other)]
            ),
        )
        for start in sorted(counts)
    )


def _drawn(
    totals: Counter[str], names: Mapping[str, str], symbols: Mapping[str, SpeciesSymbol]
) -> dict[str, tuple[str, str, str]]:
    """Name, colour and letter of the species that have their own, the commonest first."""
    free = list(OKABE_ITO)
    common = [code for code, _ in totals.most_common(len(free))]
    wanted = {code: symbols[code].colour if code in symbols else "" for code in common}
    colours: dict[str, str] = {}
    for code in common:
        if wanted[code] in free:
            colours[code] = wanted[code]
            free.remove(wanted[code])
    for code in common:
        if code not in colours:
            colours[code] = free.pop(0)
    return {code: (names[code], colours[code], symbols[code].letter if code in symbols else "") for code in common}


class CalendarChart(Chart):
    """Stacked bars over the years, with the species' names beneath."""

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(name, parent)
        self.stacks: tuple[Stack, ...] = ()

    def show_stacks(self, name: str, stacks: Sequence[Stack], empty_words: str) -> None:
        """Show these bars."""
        self._name, self.stacks, self._empty_words = name, tuple(stacks), empty_words
        self.setAccessibleName(name)
        self.setAccessibleDescription("; ".join(stack.words for stack in stacks) or empty_words)
        self.updateGeometry()
        self.update()

    def minimumSizeHint(self) -> QSize:
        """As small as can still be read, with all lines of names."""
        unit = self.fontMetrics().height()
        lines = self._named(self.width() - 16.0, QFontMetricsF(self.font()))
        return QSize(unit * 10, unit * (10 + max(len(lines) - 1, 0)))

    def is_empty(self) -> bool:
        """Whether there are no bars."""
        return not self.stacks

    def paint_marks(self, painter: QPainter, inside: QRectF) -> None:
        """Paint the bars, the years under them, and the species."""
        metrics = QFontMetricsF(self.font())
        lines = self._named(inside.width(), metrics)
        above = inside.adjusted(0, 0, 0, -metrics.height() * max(len(lines) - 1, 0) - 4)
        ticks = round_ticks(max(stack.height for stack in self.stacks), self.steps_for(above))
        plot = self.plot_inside(above, ticks)
        self.paint_scale(painter, plot, ticks, "Trees")
        first = self.stacks[0].year
        last = max(stack.year + stack.years for stack in self.stacks)
        across = plot.width() / max(last - first, 4)
        for stack in self.stacks:
            left, wide = plot.left() + (stack.year - first) * across, stack.years * across
            bottom = plot.bottom()
            for part in stack.parts:
                height = plot.height() * part.count / ticks[-1]
                box = QRectF(left + 1, bottom - height, max(wide - 2, 1), height)
                painter.fillRect(box, QColor(part.colour))
                if height >= metrics.height() and metrics.horizontalAdvance(part.letter) < wide - 4:
                    painter.setPen(ink_on(part.colour))
                    painter.drawText(box, ALIGN.AlignCenter, part.letter)
                bottom -= height
            self._hot.append((QRectF(left, plot.top(), wide, plot.height()), stack.words))
        self._paint_years(painter, plot, first, last, across)
        self._paint_names(painter, lines, QPointF(inside.left(), plot.bottom() + metrics.height() + 8))

    def _paint_years(self, painter: QPainter, plot: QRectF, first: int, last: int, across: float) -> None:
        metrics = QFontMetricsF(self.font())
        widest = metrics.horizontalAdvance("2000") + 12
        every = next(n for n in (1, 2, 5, 10, 20, 50) if n * across >= widest or n == 50)
        painter.setPen(self.colour(QPalette.ColorRole.PlaceholderText))
        for year in range(-(-first // every) * every, last, every):
            middle = plot.left() + across * (year + (0.5 if self.stacks[-1].years == 1 else 0.0) - first)
            box = QRectF(middle - widest / 2, plot.bottom() + 3, widest, metrics.height())
            if box.right() <= self.width() + 8 and box.left() >= 0:
                painter.drawText(box, ALIGN.AlignHCenter, str(year))

    def _named(self, width: float, metrics: QFontMetricsF) -> list[list[tuple[Part, float]]]:
        """Species in lines that are no wider than the chart, each with the room that its name takes."""
        named = {part.name: part for stack in self.stacks for part in stack.parts}
        totals: Counter[str] = Counter()
        for stack in self.stacks:
            for part in stack.parts:
                totals[part.name] += part.count
        order = sorted(totals, key=lambda name: (name == OTHERS, -totals[name]))
        lines: list[list[tuple[Part, float]]] = [[]]
        used = 0.0
        for name in order:
            room = metrics.horizontalAdvance(_called(named[name])) + metrics.height() + 14
            if used + room > width and lines[-1]:
                lines.append([])
                used = 0.0
            lines[-1].append((named[name], room))
            used += room
        return lines

    def _paint_names(self, painter: QPainter, lines: list[list[tuple[Part, float]]], corner: QPointF) -> None:
        metrics = QFontMetricsF(self.font())
        side = metrics.height() * 0.6
        for place, line in enumerate(lines):
            x, top = corner.x(), corner.y() + place * metrics.height()
            for part, room in line:
                painter.fillRect(QRectF(x, top + (metrics.height() - side) / 2, side, side), QColor(part.colour))
                painter.setPen(self.colour(QPalette.ColorRole.Text))
                painter.drawText(QRectF(x + side + 5, top, room, metrics.height()), ALIGN.AlignLeft, _called(part))
                x += room


def _called(part: Part) -> str:
    return f"{part.letter} {part.name}" if part.letter else part.name
