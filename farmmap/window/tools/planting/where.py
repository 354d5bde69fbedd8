"""Where the planting lies: creek, stretch and banks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton

from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.window.tools.planting.draft import BOTH, Draft
from farmmap.window.tools.planting.fields import Form, as_typed
from farmmap.window.tools.planting.section import Section

if TYPE_CHECKING:
    from farmmap.farm.farm import Farm

BANKS: dict[tuple[str, ...], str] = {
    ("left",): "left bank",
    ("right",): "right bank",
    BOTH: "both banks",
}
FARTHEST_M = 1_000_000.0


class WhereSection(Section):
    """Creek, from, to and banks, and the button that turns the flow round."""

    turn_wanted = Signal()
    """The creek is to run the other way."""

    def __init__(self, change: Callable[[Draft], None], draft: Callable[[], Draft]) -> None:
        super().__init__("Where")
        self._change, self._draft = change, draft
        self.form = Form()
        self.creek = self.form.add_choice("creek", "Cree&k", (), "Choose it here, or click it on the map")
        self.bank = self.form.add_choice(
            "banks", "&Bank, looking downstream", tuple(BANKS.items()), "The arrows on the creek show the way it flows"
        )
        tip = "Metres along the creek from its top; or click and drag on the map"
        self.begin = self.form.add_number("from_m", "&From", "m", 0, FARTHEST_M, 10, empty="the top", tip=tip)
        self.end = self.form.add_number("to_m", "&To", "m", 0, FARTHEST_M, 10, empty="the end", tip=tip)
        self.form.changed.connect(self._changed)
        self.turn = QPushButton("The water runs the other way")
        self.turn.setToolTip("Turns the arrows round, which changes left and right. Undo takes it back.")
        self.turn.setAutoDefault(False)
        self.turn.clicked.connect(self.turn_wanted)
        row = QHBoxLayout()
        row.addWidget(self.turn)
        row.addStretch(1)
        self.note = WrappedLabel()
        self.note.setProperty("quiet", True)
        self.column.addWidget(self.form)
        self.column.addLayout(row)
        self.column.addWidget(self.note)

    def follow_farm(self, farm: Farm) -> None:
        """Offer the farm's creeks."""
        names = creek_names(farm)
        self.creek.offer([("", "choose a creek")] + [(name, name) for name in names])
        self.note.setText("" if names else "This farm has no creek yet. Draw one with Draw, above the map (F3).")
        self.note.setVisible(not names)

    def show_draft(self, draft: Draft, length_m: float | None) -> None:
        """Show a draft, and how long its creek is."""
        self.form.show_values({"creek": draft.creek, "banks": draft.banks, "from_m": draft.from_m, "to_m": draft.to_m})
        self.turn.setEnabled(bool(draft.creek))
        if length_m is not None:
            self.end.setPlaceholderText(f"{length_m:.0f}")
        self.say(where_words(draft))

    def _changed(self, name: str, value: object) -> None:
        draft = self._draft()
        if name == "creek":
            self._change(replace(draft, creek=str(value or ""), from_m=None, to_m=None))
        else:
            self._change(replace(draft, **{name: value}))  # type: ignore[arg-type]


def creek_names(farm: Farm) -> list[str]:
    """Return the names of the creeks that are there, in the order in which they were drawn."""
    rows = farm.creeks[farm.creeks["stage"] == "existing"]
    return [str(name) for name in rows["name"].unique()]


def where_words(draft: Draft) -> str:
    """Return where a draft lies: ``Sedge Creek, left bank, 100–350 m``."""
    if not draft.creek:
        return "no creek chosen"
    ends = ""
    if draft.from_m is not None or draft.to_m is not None:
        begin, end = as_typed(round(draft.from_m or 0.0)), "end" if draft.to_m is None else as_typed(round(draft.to_m))
        ends = f", {begin}–{end}" + ("" if draft.to_m is None else " m")
    return f"{draft.creek}, {BANKS.get(draft.banks, '')}{ends}"
