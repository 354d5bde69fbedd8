"""The box beside the map in which a planting is planned: all of the recipe, and what comes of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.tools.planting.cost_section import CostSection
from farmmap.window.tools.planting.fields import KeepInSight, Words
from farmmap.window.tools.planting.own_plants import OwnPlantsSection
from farmmap.window.tools.planting.plain_sections import ClearSection, FenceSection, OrderSection, RecipeSection
from farmmap.window.tools.planting.plan_words import about_words, short_words
from farmmap.window.tools.planting.plans import PlansSection
from farmmap.window.tools.planting.results import ResultSection
from farmmap.window.tools.planting.section import Section
from farmmap.window.tools.planting.where import WhereSection
from farmmap.window.tools.planting.width import WidthSection
from farmmap.window.tools.planting.zones import ZonesSection

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm
    from farmmap.plans.planting.recipes.rules import RuleSet
    from farmmap.scene.styles import Theme
    from farmmap.window.tools.planting.live import Live

MOST_YEARS = 40


class WideEnough(QScrollArea):
    """Scrolls up and down only, and asks for as much room as what it holds needs beside its bar."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)

    def minimumSizeHint(self) -> QSize:
        """Ask for the width of what it holds."""
        held = self.widget()
        bar = self.verticalScrollBar().sizeHint().width()
        wide = 0 if held is None else held.minimumSizeHint().width() + bar
        return QSize(max(super().minimumSizeHint().width(), wide), super().minimumSizeHint().height())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Ask anew when what it holds needs other room."""
        if event.type() == QEvent.Type.LayoutRequest and watched is self.widget():
            self.updateGeometry()
        return super().eventFilter(watched, event)


class PlantingBox(QFrame):
    """Sections that open and fold, over a foot that always shows what the plan comes to.

    Parameters
    ----------
    live : Live
        The draft, and the plan that follows it.
    """

    keep_wanted, accept_wanted, closed = Signal(), Signal(), Signal()

    def __init__(self, live: Live) -> None:
        super().__init__()
        self._live = live
        self._rules: Mapping[str, RuleSet] = {}
        self._names: Sequence[str] = ()
        self.setAccessibleName("Planting")
        change, now = live.change, lambda: live.draft
        self.where = WhereSection(change, now)
        self.recipe = RecipeSection(change, now)
        self.width_part = WidthSection(change, now, lambda: self._rules)
        self.zones = ZonesSection(change, now, self._offered_names)
        self.own_plants = OwnPlantsSection(change, now)
        self.clear = ClearSection(change, now)
        self.fence = FenceSection(change, now)
        self.orders = OrderSection(change, now)
        self.costs = CostSection(change, now)
        self.results = ResultSection()
        self.plans = PlansSection()
        self.sections: tuple[Section, ...] = (
            self.where,
            self.recipe,
            self.width_part,
            self.zones,
            self.own_plants,
            self.clear,
            self.fence,
            self.orders,
            self.costs,
            self.results,
            self.plans,
        )
        self._scroll = WideEnough()
        self._sight = KeepInSight(self._scroll)
        self._lay_out()
        self.where.open()
        self.show_trouble("")

    # What is shown

    def follow_farm(self, farm: Farm) -> None:
        """Offer what the farm has."""
        from farmmap.plans.planting.keeping.kept import kept_plans

        self.where.follow_farm(farm)
        self.plans.show_plans(kept_plans(farm))
        self.show_draft()

    def offer(self, names: Sequence[str], rules: Mapping[str, RuleSet], examples: Sequence[tuple[Path, str]]) -> None:
        """Offer kinds of plants, rules of width, and recipes to start from; called once, before anything is shown."""
        self._names, self._rules = names, rules
        self.recipe.examples.offer([(None, "a recipe that comes with farmmap"), *examples])

    def show_draft(self, length_m: float | None = None) -> None:
        """Show the draft as it is."""
        draft = self._live.draft
        self.where.show_draft(draft, length_m)
        self.recipe.show_draft(draft)
        parts = (self.width_part, self.zones, self.own_plants, self.clear, self.fence, self.orders, self.costs)
        for section in parts:
            section.show_draft(draft)
        self.name.show_value(draft.name)
        self._follow_buttons()

    def show_worked(self, theme: Theme) -> None:
        """Show the plan as it is."""
        worked = self._live.worked
        accepted = self._live.accepted
        self.plans.has_plan(worked is not None, "" if accepted is None else accepted.plan.name)
        if worked is None:
            self.sums.setText("Choose a creek to begin." if not self._live.draft.creek else "Working it out …")
            self.results.say("")
            self._follow_buttons()
            return
        self.sums.setText(short_words(worked, self._live.outlook))
        self.sums.setAccessibleName(self.sums.text())
        self.width_part.show_widths(worked.width_m)
        self.results.show_worked(worked, theme)
        self.results.say(f"{len(worked.plan.plants):,} plants")
        self._follow_buttons()

    def show_about(self) -> None:
        """Show about what the plan comes to, in the places of the figures that are on their way."""
        sketch = self._live.sketch
        if sketch is None:
            return
        words = about_words(sketch)
        self.sums.setText(words)
        self.sums.setAccessibleName(words)
        self.width_part.show_widths(sketch.width_m)
        self.results.show_about(sketch)

    def show_outlook(self) -> None:
        """Show what will come of the plan."""
        worked, outlook = self._live.worked, self._live.outlook
        if worked is not None and outlook is not None:
            if self._live.sketch is None:
                self.sums.setText(short_words(worked, outlook))
            self.results.show_outlook(outlook, self._live.year)

    def show_trouble(self, words: str) -> None:
        """Show what is wrong, "" for nothing."""
        self.trouble.setText(words)
        self.trouble.setVisible(bool(words))
        self.trouble.setAccessibleName(words)
        self._follow_buttons()

    def show_year(self, year: int) -> None:
        """Say which year the crowns on the map are of."""
        self.year_words.setText("not shown" if not year else f"{year} year{'' if year == 1 else 's'}")

    # How it is put together

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Give the keyboard back to the map with Escape; keep other keys from the map."""
        if event.key() == Qt.Key.Key_Escape:
            self.closed.emit()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.accept()  # a field has taken it
        else:
            super().keyPressEvent(event)

    def _lay_out(self) -> None:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(4, 4, 4, 4)
        column.setSpacing(2)
        for section in self.sections:
            column.addWidget(section)
            section.opened.connect(lambda one=section: self._opened(one))
        column.addStretch(1)
        self._scroll.setWidget(inside)
        for part in (self._scroll.viewport(), inside):
            part.setAutoFillBackground(False)
        whole = QVBoxLayout(self)
        whole.setContentsMargins(6, 4, 6, 6)
        whole.setSpacing(4)
        whole.addWidget(self._scroll, 1)
        whole.addWidget(self._foot())

    def _foot(self) -> QWidget:
        foot = QFrame()
        foot.setFrameShape(QFrame.Shape.StyledPanel)
        self.sums, self.trouble = WrappedLabel("Choose a creek to begin."), WrappedLabel()
        self.sums.setProperty("heading", True)
        self.trouble.setProperty("warning", True)
        self.year = QSlider(Qt.Orientation.Horizontal)
        self.year.setRange(0, MOST_YEARS)
        self.year.setPageStep(5)
        self.year.setAccessibleName("Crowns after so many years")
        self.year_words = QLabel("not shown")
        self.year_words.setMinimumWidth(self.fontMetrics().averageCharWidth() * 10)
        label = QLabel("&Crowns after")
        label.setBuddy(self.year)
        years = QHBoxLayout()
        for widget, stretch in ((label, 0), (self.year, 1), (self.year_words, 0)):
            years.addWidget(widget, stretch)
        self.name = Words("Name of the plan")
        self.name.setPlaceholderText("name of the plan")
        called = QLabel("Plan &name")
        called.setBuddy(self.name)
        self.keep, self.accept = QPushButton("Keep"), QPushButton("Accept into the farm")
        for button, signal in ((self.keep, self.keep_wanted), (self.accept, self.accept_wanted)):
            button.setAutoDefault(False)
            button.clicked.connect(signal)
        self.keep.setToolTip("Keep this plan beside others; nothing of it comes on the map")
        self.accept.setToolTip("Put its plants, fence and zones on the map as planned")
        self.name.textEdited.connect(self._named)
        self.year.valueChanged.connect(self.show_year)
        row = QGridLayout()
        row.addWidget(called, 0, 0)
        row.addWidget(self.name, 0, 1, 1, 2)
        row.addWidget(self.keep, 1, 1)
        row.addWidget(self.accept, 1, 2)
        row.setColumnStretch(2, 1)
        column = QVBoxLayout(foot)
        column.setContentsMargins(8, 6, 8, 6)
        column.setSpacing(4)
        column.addWidget(self.sums)
        column.addWidget(self.trouble)
        column.addLayout(years)
        column.addLayout(row)
        return foot

    def _opened(self, opened: Section) -> None:
        opened.button.setFocus(Qt.FocusReason.OtherFocusReason)  # else the fold would throw it out of the box
        for section in self.sections:
            if section is not opened and section.is_open:
                section.open(False)
        if opened is self.results:
            self._live.worked_out.emit()
            self._live.looked_ahead.emit()
            self.show_about()
        for field in opened.findChildren(QWidget):
            field.removeEventFilter(self._sight)
            field.installEventFilter(self._sight)

    def _offered_names(self) -> list[str]:
        own = [kind.name for kind in self._live.draft.recipe.plants]
        return [*own, *(name for name in self._names if name not in own)]

    def _named(self, text: str) -> None:
        self._live.change(replace(self._live.draft, name=text.strip()))

    def _follow_buttons(self) -> None:
        ready = self._live.worked is not None and not self._live.trouble
        for button in (self.keep, self.accept):
            button.setEnabled(ready and bool(self._live.draft.name))
