"""The zones of a planting, from the water outwards: width, pattern, spacing and what grows there."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from PySide6.QtWidgets import QGridLayout, QLabel, QListWidget, QPushButton

from farmmap.plans.planting.recipes.recipe import Pattern, Zone
from farmmap.window.tools.planting.draft import Draft, percent, zone_troubles
from farmmap.window.tools.planting.fields import Form, as_typed
from farmmap.window.tools.planting.mix import MixTable
from farmmap.window.tools.planting.section import Section

PATTERNS = (
    (Pattern.ROWS, "rows along the creek"),
    (Pattern.CONTOUR, "rows along the contour"),
    (Pattern.SQUARE, "square"),
    (Pattern.TRIANGLE, "triangle"),
    (Pattern.SCATTERED, "scattered"),
    (Pattern.NONE, "left in grass"),
)
IN_ROWS = {Pattern.ROWS, Pattern.CONTOUR}
SHARE, METRES = "share", "metres"


class ZonesSection(Section):
    """A list of the zones, and the fields of the one that is chosen in it."""

    def __init__(
        self, change: Callable[[Draft], None], draft: Callable[[], Draft], names: Callable[[], Sequence[str]]
    ) -> None:
        super().__init__("Zones and plants")
        self._change, self._draft, self._names = change, draft, names
        self._place = 0
        head = QLabel("Zones, from the water outwards")
        self.list = QListWidget()
        self.list.setAccessibleName("Zones, from the water outwards")
        self.list.currentRowChanged.connect(self._chosen)
        head.setBuddy(self.list)
        self.add, self.remove = QPushButton("Add a zone"), QPushButton("Take away")
        self.inward, self.outward = QPushButton("Nearer the water"), QPushButton("Further out")
        buttons = QGridLayout()
        for place, (button, do) in enumerate(
            (
                (self.add, self._add),
                (self.remove, self._remove),
                (self.inward, lambda: self._move(-1)),
                (self.outward, lambda: self._move(1)),
            )
        ):
            button.setAutoDefault(False)
            button.clicked.connect(do)
            buttons.addWidget(button, place // 2, place % 2)
        self.form = Form()
        self.form.add_words("name", "Na&me")
        self.form.add_choice("by", "Its width is given", ((SHARE, "as a share of the margin"), (METRES, "in metres")))
        self.form.add_number("share", "Share of the width", "%", 0, 100, 5)
        self.form.add_number("width_m", "Width", "m", 0, 500, 0.5)
        self.form.add_choice("pattern", "&Pattern", PATTERNS)
        self.form.add_number("between_m", "Between rows", "m", 0.2, 100, 0.25)
        self.form.add_number("within_m", "Between plants in a row", "m", 0.2, 100, 0.25)
        self.mix: MixTable | None = None
        self.more = Form()
        self.more.add_number(
            "groups_of",
            "Plants of one kind together",
            "",
            1,
            500,
            1,
            whole=True,
            tip="1: well mixed; more: in groups of so many",
        )
        self.more.add_number("headland_m", "Kept free at the ends of rows", "m", 0, 100, 1)
        self.more.add_number(
            "turn_m",
            "Bends no tighter than",
            "m",
            0,
            200,
            1,
            tip="Radius that a machine can drive; 0 where none is driven",
        )
        self.more.add_words("reason", "What it is for", below=True)
        self.more.add_words("harvest", "What may be felled later", below=True)
        for form in (self.form, self.more):
            form.changed.connect(self._changed)
        self.column.addWidget(head)
        self.column.addWidget(self.list)
        self.column.addLayout(buttons)
        self.column.addWidget(self.form)
        self.column.addWidget(self.more)

    @property
    def place(self) -> int:
        """Which zone is chosen."""
        return self._place

    def show_draft(self, draft: Draft) -> None:
        """Show a draft."""
        zones = draft.recipe.zones
        self._place = min(self._place, max(len(zones) - 1, 0))
        if self.mix is None:
            self.mix = MixTable(self._names())
            self.mix.changed.connect(lambda mix: self._put(mix=mix))
            self.column.insertWidget(4, self.mix)
        self.mix.offer(self._names())
        self._show_list(zones)
        self.remove.setEnabled(len(zones) > 1)
        self.inward.setEnabled(self._place > 0)
        self.outward.setEnabled(self._place < len(zones) - 1)
        if zones:
            self._show_zone(zones[self._place])
        self.say(f"{len(zones)} zones" if len(zones) != 1 else zones[0].name or "1 zone")

    def _show_list(self, zones: tuple[Zone, ...]) -> None:
        self.list.blockSignals(True)
        for place, zone in enumerate(zones):
            words = f"{place + 1}  {zone_words(zone)}"
            item = self.list.item(place)
            if item is None:
                self.list.addItem(words)
            elif item.text() != words:
                item.setText(words)
        while self.list.count() > len(zones):
            self.list.takeItem(self.list.count() - 1)
        self.list.setCurrentRow(self._place)
        self.list.blockSignals(False)
        rows = min(max(len(zones), 2), 5)
        self.list.setFixedHeight(rows * max(self.list.sizeHintForRow(0), 18) + 10)

    def _show_zone(self, zone: Zone) -> None:
        assert self.mix is not None
        by = METRES if zone.width_m is not None else SHARE
        planted, rows = zone.pattern is not Pattern.NONE, zone.pattern in IN_ROWS
        self.form.show_line("share", by == SHARE)
        self.form.show_line("width_m", by == METRES)
        self.form.show_line("between_m", planted)
        self.form.show_line("within_m", planted and rows)
        label = self.form.labels["between_m"]
        label.setText("Between rows" if rows else "Between plants")
        self.form.fields["between_m"].setAccessibleName(f"{label.text()}, m")
        self.mix.setVisible(planted)
        self.more.show_line("groups_of", planted)
        self.more.show_line("headland_m", planted)
        self.more.show_line("turn_m", rows)
        self.more.show_line("harvest", planted)
        self.form.show_values(
            {
                "name": zone.name,
                "by": by,
                "share": None if zone.share is None else round(100 * zone.share, 4),
                "width_m": zone.width_m,
                "pattern": zone.pattern,
                "between_m": zone.between_m,
                "within_m": zone.within_m,
            }
        )
        self.more.show_values(
            {name: getattr(zone, name) for name in ("groups_of", "headland_m", "turn_m", "reason", "harvest")}
        )
        self.mix.show_mix(zone.mix)

    def _chosen(self, row: int) -> None:
        if row >= 0 and row != self._place:
            self._place = row
            self.show_draft(self._draft())

    def _changed(self, name: str, value: object) -> None:
        zone = self._draft().recipe.zones[self._place]
        if name == "by":
            if value == SHARE:
                self._put(share=zone.share or self._share_left(), width_m=None)
            else:
                self._put(share=None, width_m=zone.width_m or 3.0)
        elif name == "share":
            assert isinstance(value, int | float)
            self._put(share=value / 100)
        elif name == "groups_of":
            assert isinstance(value, int | float)
            self._put(groups_of=round(value))
        elif name == "between_m" and zone.pattern not in IN_ROWS:
            self._put(between_m=value, within_m=value)
        elif name == "pattern" and value is not Pattern.NONE and not zone.between_m:
            self._put(pattern=value, between_m=2.0, within_m=2.0)
        else:
            self._put(**{name: value})

    def _share_left(self) -> float:
        zones = self._draft().recipe.zones
        others = sum(zone.share or 0.0 for place, zone in enumerate(zones) if place != self._place)
        return round(max(1.0 - others, 0.05), 4)

    def _put(self, **values: object) -> None:
        draft = self._draft()
        if values.get("pattern") is not None and values["pattern"] not in IN_ROWS:
            values.setdefault("within_m", draft.recipe.zones[self._place].between_m)
        self._change(draft.with_zone(self._place, **values))

    def _add(self) -> None:
        draft = self._draft()
        zones = draft.recipe.zones
        left = max(1.0 - sum(zone.share or 0.0 for zone in zones), 0.0)
        new = Zone(f"Zone {len(zones) + 1}", share=round(left, 4), pattern=Pattern.NONE)
        if zones and left < 0.01 and all(zone.share is not None for zone in zones):  # room is made by halving the last
            half = round((zones[-1].share or 0.0) / 2, 4)
            zones = (*zones[:-1], replace(zones[-1], share=round((zones[-1].share or 0.0) - half, 4)))
            new = replace(new, share=half)
        self._place = len(zones)
        self._change(draft.with_recipe(zones=(*zones, new)))

    def _remove(self) -> None:
        draft, at = self._draft(), self._place
        zones = draft.recipe.zones
        gone, left = zones[at], [*zones[:at], *zones[at + 1 :]]
        if gone.share is not None and left:  # its neighbour takes what it leaves
            near = min(at, len(left) - 1)
            if left[near].share is not None:
                left[near] = replace(left[near], share=round((left[near].share or 0.0) + gone.share, 6))
        self._place = max(at - 1, 0)
        self._change(draft.with_recipe(zones=tuple(left)))

    def _move(self, step: int) -> None:
        draft, at = self._draft(), self._place
        zones = list(draft.recipe.zones)
        if 0 <= at + step < len(zones):
            zones[at], zones[at + step] = zones[at + step], zones[at]
            self._place = at + step
            self._change(draft.with_recipe(zones=tuple(zones)))


def zone_words(zone: Zone) -> str:
    """Return a zone in few words: ``Bank, 40 %, rows 2 × 1.5 m``; with a sign where something is wrong with it."""
    wide = percent(100 * zone.share) if zone.share is not None else f"{as_typed(zone.width_m)} m"
    if zone.pattern is Pattern.NONE:
        how = "grass"
    elif zone.pattern in IN_ROWS:
        how = f"rows {as_typed(zone.between_m)} × {as_typed(zone.within_m)} m"
    else:
        how = f"{zone.pattern.value} {as_typed(zone.between_m)} m"
    wrong = "  – look at this" if zone_troubles(zone) else ""
    return f"{zone.name or 'no name'}, {wide}, {how}{wrong}"
