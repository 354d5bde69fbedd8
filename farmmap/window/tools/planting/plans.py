"""Plans that are kept on the farm: opened again, compared, accepted, planted, made good, and handed on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QListWidget, QListWidgetItem, QPushButton

from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.tools.planting.section import Section

if TYPE_CHECKING:
    from farmmap.plans.planting.keeping.kept import KeptPlan

IN_BOX = "Hand on the plan in the box"


class PlansSection(Section):
    """The list of plans, with what may be done with the one that is chosen or with those that are ticked."""

    open_wanted, planted_wanted, gapping_wanted, back_wanted = (
        Signal(object),
        Signal(object),
        Signal(object),
        Signal(object),
    )
    """A `KeptPlan` is to be opened, marked as planted, made good, or taken back by one step."""
    compare_wanted = Signal(object)
    """Kept plans are to be compared, with the one in the box if there is one."""
    print_wanted = Signal(object)
    """A `KeptPlan` is to be printed."""
    pegging_wanted, order_wanted, map_wanted = Signal(), Signal(), Signal()

    def __init__(self) -> None:
        super().__init__("Plans, and handing on")
        self._plans: tuple[KeptPlan, ...] = ()
        head = QLabel("Plans on this farm; tick those to compare")
        self.list = QListWidget()
        self.list.setAccessibleName("Plans on this farm")
        self.list.setFixedHeight(self.fontMetrics().height() * 6)
        head.setBuddy(self.list)
        self.open_plan = QPushButton("Open")
        self.compare = QPushButton("Compare…")
        self.planted = QPushButton("Mark as planted…")
        self.gapping = QPushButton("Replace the dead…")
        self.back = QPushButton("Take back")
        self.print = QPushButton("Print…")
        self.pegging, self.order, self.map = (
            QPushButton(f"{words}…") for words in ("Pegging list", "Order list", "Map")
        )
        self.pegging.setToolTip("Where each plant stands, for a GPS or a phone: GPX, GeoJSON, CSV or GeoPackage")
        self.order.setToolTip("What to order, as CSV")
        self.map.setToolTip("The planting with its key and lists on a page, as PDF or picture")
        self.print.setToolTip("The plan on paper, once it was seen; with the choice of scale, paper and title")
        self.back.setToolTip("An accepted plan goes back to a kept one; a kept one goes off the list")
        grid = QGridLayout()
        for place, button in enumerate(
            (self.open_plan, self.planted, self.compare, self.gapping, self.print, self.back)
        ):
            button.setAutoDefault(False)
            grid.addWidget(button, place // 2, place % 2)
        self.out = WrappedLabel(IN_BOX)
        self.out.setProperty("heading", True)
        files = QGridLayout()
        for place, button in enumerate((self.pegging, self.order, self.map)):
            button.setAutoDefault(False)
            files.addWidget(button, 0, place)
        self.note = WrappedLabel()
        self.note.setProperty("quiet", True)
        for widget in (head, self.list):
            self.column.addWidget(widget)
        self.column.addLayout(grid)
        self.column.addWidget(self.note)
        self.column.addWidget(self.out)
        self.column.addLayout(files)
        self.list.currentRowChanged.connect(lambda _row: self._follow())
        self.list.itemChanged.connect(lambda _item: self._follow())
        self.list.itemActivated.connect(lambda _item: self._tell(self.open_wanted.emit))
        for button, signal in (
            (self.open_plan, self.open_wanted),
            (self.planted, self.planted_wanted),
            (self.gapping, self.gapping_wanted),
            (self.back, self.back_wanted),
            (self.print, self.print_wanted),
        ):
            button.clicked.connect(lambda _checked=False, tell=signal.emit: self._tell(tell))
        self.compare.clicked.connect(lambda: self.compare_wanted.emit(self.ticked))
        self.pegging.clicked.connect(self.pegging_wanted)
        self.order.clicked.connect(self.order_wanted)
        self.map.clicked.connect(self.map_wanted)
        self._has_plan = self._in_box = False
        self._follow()

    @property
    def chosen(self) -> KeptPlan | None:
        """The plan that is chosen in the list."""
        row = self.list.currentRow()
        return self._plans[row] if 0 <= row < len(self._plans) else None

    @property
    def ticked(self) -> tuple[KeptPlan, ...]:
        """Plans that are ticked."""
        items = [self.list.item(row) for row in range(self.list.count())]
        return tuple(
            plan for plan, item in zip(self._plans, items, strict=True) if item.checkState() == Qt.CheckState.Checked
        )

    def show_plans(self, plans: Sequence[KeptPlan]) -> None:
        """Show the plans of a farm; those that were ticked or chosen stay so."""
        ticked, chosen = {plan.id for plan in self.ticked}, None if self.chosen is None else self.chosen.id
        self.list.blockSignals(True)
        self.list.clear()
        self._plans = tuple(plans)
        for plan in plans:
            item = QListWidgetItem(f"{plan.name} – {plan.state} ({plan.stretch.creek})")
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked if plan.id in ticked else Qt.CheckState.Unchecked)
            item.setToolTip(plan.note)
            self.list.addItem(item)
            if plan.id == chosen:
                self.list.setCurrentItem(item)
        self.list.blockSignals(False)
        self.say(f"{len(plans)} on this farm" if plans else "none kept yet")
        self._follow()

    def has_plan(self, in_box: bool, accepted: str = "") -> None:
        """Know whether a plan in the box may be handed on and compared, else which one was accepted last."""
        self._in_box, self._has_plan = in_box, in_box or bool(accepted)
        self.out.setText(IN_BOX if in_box or not accepted else f"Hand on {accepted}, accepted last")
        self._follow()

    def _tell(self, tell: Callable[[KeptPlan], None]) -> None:
        if self.chosen is not None:
            tell(self.chosen)

    def _follow(self) -> None:
        plan = self.chosen
        state = "" if plan is None else plan.state
        self.open_plan.setEnabled(plan is not None)
        self.planted.setEnabled(state in {"accepted", "planted"})
        self.gapping.setEnabled(state == "planted")
        self.back.setEnabled(plan is not None)
        self.print.setEnabled(plan is not None)
        self.compare.setEnabled(len(self.ticked) + self._in_box >= 2)
        self.pegging.setEnabled(self._has_plan)
        self.order.setEnabled(self._has_plan)
        self.map.setEnabled(self._has_plan)
        if not self._plans:
            self.note.setText("Give the plan a name below and press Keep.")
        elif plan is None:
            self.note.setText("Choose a plan in the list.")
        else:
            self.note.setText(
                {
                    "kept": "Kept beside others; nothing of it is on the map yet.",
                    "accepted": "Accepted: it is on the map as planned.",
                    "planted": "Planted: it stands on the farm.",
                }.get(state, "")
            )
