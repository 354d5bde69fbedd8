"""The tool that plans a planting: a creek is clicked, its stretch, and the margin's outer edge is dragged."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import QWidget

from farmmap.errors import FarmmapError
from farmmap.progress import Progress
from farmmap.window.map_tool import MapTool
from farmmap.window.tools.bench import Bench
from farmmap.window.tools.planting.actions import PlanActions
from farmmap.window.tools.planting.box import PlantingBox
from farmmap.window.tools.planting.draft import Draft, least_width_m
from farmmap.window.tools.planting.live import Live
from farmmap.window.tools.planting.over_map import PlanOverMap
from farmmap.window.tools.planting.where import creek_names
from farmmap.window.tools.sentences import words_of_error

if TYPE_CHECKING:
    from farmmap.plans.planting.recipes.rules import RuleSet
    from farmmap.scene.scene import KeyEntry
    from farmmap.window.tools.planting.grips import Grip

NEAR_MM = 3.0
"""How far from a creek or a handle a click may fall and still mean it. [mm of screen]"""
ROUND_M, FINE_ROUND_M = 0.5, 0.1
"""Widths that are dragged go by such steps, by the finer with Shift. [m]"""
LEAST_WIDTH_M = 0.5
_HALF_PLANNED: WeakKeyDictionary[Bench, dict[Path | None, Draft]] = WeakKeyDictionary()
"""Drafts of tools that were laid down, by the file of their farm."""

Offered = tuple[list[str], "dict[str, RuleSet]", list[tuple[Path, str]]]
"""Kinds of plants, rules of width, and example recipes with their names."""


class PlantTool(MapTool):
    """Plans a planting along a creek."""

    cursor = Qt.CursorShape.PointingHandCursor

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        kept = _HALF_PLANNED.setdefault(bench, {}).pop(bench.session.path, None)
        self._is_new = kept is None
        self.live = Live(bench, kept or Draft(), bench)
        self.box = PlantingBox(self.live)
        self.actions = PlanActions(bench, self.live, self.box)
        self.over_map = PlanOverMap(bench, self.live)
        self._held: Grip | None = None
        self._begun: float | None = None
        self._length: tuple[object, str, float | None] | None = None

    # In the hand

    def begin(self) -> None:
        """Offer what there is, and go on with what was half planned."""
        live, box = self.live, self.box
        live.changed.connect(self._draft_changed)
        live.worked_out.connect(self._worked_out)
        live.sketched.connect(self._sketched)
        live.looked_ahead.connect(box.show_outlook)
        live.crowns_grew.connect(self.bench.map_view.update)
        live.troubled.connect(lambda: box.show_trouble(live.trouble))
        box.year.valueChanged.connect(self._year_changed)
        box.closed.connect(lambda: self.bench.map_view.setFocus(Qt.FocusReason.OtherFocusReason))
        box.where.turn_wanted.connect(self.turn_flow)
        box.recipe.example_wanted.connect(live.read)
        self._offer()

    def end(self) -> None:
        """Keep what is half planned for when the tool is taken up again on this farm."""
        self.live.stop()
        _HALF_PLANNED.setdefault(self.bench, {})[self.bench.session.path] = self.live.draft
        self.live.deleteLater()

    def beside(self) -> QWidget:
        """Return the box."""
        return self.box

    def take_focus(self) -> None:
        """Let the keyboard begin with the creek."""
        self.box.where.creek.setFocus(Qt.FocusReason.OtherFocusReason)

    def words(self) -> str:
        """Return what may be done next."""
        draft = self.live.draft
        if not draft.creek:
            return "Click the creek that is to be planted, or choose it in the box."
        if self._begun is not None:
            return f"The planting begins at {self._begun:.0f} m. Click along {draft.creek} where it ends."
        if draft.from_m is None and draft.to_m is None:
            return (
                f"All of {draft.creek}. Click along it where the planting begins, then where it ends; or drag the "
                "square on the margin's outer edge."
            )
        return "Drag the squares: the outer edge for the width, the ends for the stretch. Escape lays the tool down."

    def answers(self) -> tuple[tuple[str, Callable[[], None]], ...]:
        """Offer the whole creek again, and to bring the planting into sight."""
        draft = self.live.draft
        found: list[tuple[str, Callable[[], None]]] = []
        if draft.creek and (self._begun is not None or draft.from_m is not None or draft.to_m is not None):
            found.append(("Whole creek", self._whole_creek))
        if self.live.worked is not None:
            found.append(("Show it", self._show_it))
        return tuple(found)

    def key(self) -> tuple[KeyEntry, ...]:
        """Return the signs of the plan's fences."""
        now, worked = self.bench.contents.now, self.live.worked
        if now is None or worked is None:
            return ()
        from farmmap.scene.planting_layer import key_of_fences

        return key_of_fences(worked.picture.fences, now.scene.theme)

    def farm_changed(self) -> None:
        """Follow the farm."""
        farm = self.bench.farm
        if farm is None:
            return
        if self.live.draft.creek and self.live.draft.creek not in creek_names(farm):
            self.live.change(replace(self.live.draft, creek="", from_m=None, to_m=None))
        self.box.follow_farm(farm)
        self.live.work_out()

    # Mouse and keys

    def pressed(self, event: QMouseEvent) -> bool:
        """Take hold of a handle."""
        self._held = self.over_map.grip_at(event.position(), NEAR_MM * self.bench.map_view.dots_per_mm())
        self.over_map.held = self._held
        return self._held is not None

    def dragged(self, event: QMouseEvent) -> None:
        """Change the width, or an end of the stretch; the plan follows."""
        ground = self.bench.map_view.ground_at(event.position())
        if self._held is None or ground is None:
            return
        fine = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self._held.name in {"left", "right"}:
            self._drag_edge(self._held.name, *ground, fine=fine)
        else:
            self._drag_end(self._held.name, *ground, fine=fine)
        self.bench.map_view.update()

    def released(self, event: QMouseEvent) -> None:  # noqa: ARG002 - the last drag said where
        """Let go of the handle."""
        self._held = self.over_map.held = None
        self.over_map.pointer = None
        self.bench.strip.read("")
        self.bench.guide()

    def hovered(self, event: QMouseEvent) -> None:
        """Show which handle would be taken hold of."""
        found = self.over_map.grip_at(event.position(), NEAR_MM * self.bench.map_view.dots_per_mm())
        if found is not self.over_map.near:
            self.over_map.near = found
            self.bench.map_view.update()

    def clicked(self, event: QMouseEvent) -> bool:
        """Take a creek, or the beginning or end of the stretch."""
        ground = self.bench.map_view.ground_at(event.position())
        if ground is not None:
            self._click(*ground)
        return True

    def double_clicked(self, event: QMouseEvent) -> bool:  # noqa: ARG002 - its first click was told already
        """Leave the map as large as it is."""
        return True

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Give up an end that was begun with Escape, else lay the tool down."""
        if event.key() != Qt.Key.Key_Escape:
            return False
        if self._begun is not None:
            self._begun = None
            self.over_map.begun = None
            self.bench.guide()
        else:
            self.bench.lay_down()
        return True

    def paint(self, painter: QPainter) -> None:
        """Paint the plan over the map."""
        self.over_map.paint(painter)

    # Changes

    def turn_flow(self) -> None:
        """Let the water of the creek run the other way, which is an edit; the same ground stays chosen."""
        farm, draft = self.bench.farm, self.live.draft
        if farm is None or not draft.creek:
            return
        from farmmap.window.tools.planting.flow import flow_turned

        length_m = self.creek_length_m()

        def then(_proposed: object) -> None:
            if length_m is not None:
                self.live.change(self.live.draft.turned(length_m))
            self.bench.strip.note("The arrows are turned round, and left and right have changed places.")

        self.bench.propose(lambda farm: flow_turned(farm, draft.creek), (), then)

    def creek_length_m(self) -> float | None:
        """Return how long the creek is that was chosen, None if there is none [m]."""
        farm, creek = self.bench.farm, self.live.draft.creek
        if farm is None or not creek:
            return None
        kept = self._length
        if kept is None or kept[0] is not farm.creeks or kept[1] != creek:
            from farmmap.plans.planting.ground.stretch import creek_length_m

            try:
                length: float | None = float(creek_length_m(farm, creek))
            except FarmmapError:
                length = None
            self._length = kept = (farm.creeks, creek, length)
        return kept[2]

    def _click(self, x: float, y: float) -> None:
        from farmmap.plans.planting.ground.stretch import chainage_m

        farm, draft = self.bench.farm, self.live.draft
        name = None if farm is None else self.over_map.creek_at(farm, x, y, self.bench.metres(NEAR_MM))
        if farm is None or name is None:
            words = "Click nearer to a creek." if not draft.creek else f"Click on {draft.creek}, or drag a square."
            self.bench.strip.note(words, warning=True)
            return
        if name != draft.creek:
            self._begun = self.over_map.begun = None
            self.live.change(replace(draft, creek=name, from_m=None, to_m=None))
            return
        try:
            at_m = round(float(chainage_m(farm, name, x, y)[0]), 1)
        except FarmmapError as error:
            self.bench.strip.note(words_of_error(error), warning=True)
            return
        if self._begun is None:
            self._begun, self.over_map.begun = at_m, (x, y)
        else:
            begin, end = sorted((self._begun, at_m))
            self._begun = self.over_map.begun = None
            self.live.change(replace(draft, from_m=begin, to_m=end))
        self.bench.guide()

    def _drag_edge(self, side: str, x: float, y: float, *, fine: bool) -> None:
        from farmmap.window.tools.planting.grips import width_at

        shown = self.live.shown
        if shown is None:
            return
        step = FINE_ROUND_M if fine else ROUND_M
        width_m = max(round(round(width_at(shown.plan, side, x, y) / step) * step, 1), LEAST_WIDTH_M)
        words, needed_m = f"{width_m:.1f} m wide", least_width_m(self.live.draft.recipe.zones)
        if width_m < needed_m < math.inf:
            width_m = math.ceil(round(needed_m * 10, 6)) / 10
            words = f"{width_m:.1f} m wide; its zones need so much"
        self.over_map.pointer = (x, y, words)
        self.bench.strip.read(words)
        if self.live.draft.width_m is None:
            rules = self.live.draft.recipe.widths
            self.bench.strip.note(
                "One width is drawn now in place of the rule.",
                answers=(("Back to the rule", lambda: self.live.change(self.live.draft.with_recipe(widths=rules))),),
            )
        self.live.change(self.live.draft.with_width(width_m))

    def _drag_end(self, which: str, x: float, y: float, *, fine: bool) -> None:
        from farmmap.plans.planting.ground.stretch import chainage_m

        farm, draft = self.bench.farm, self.live.draft
        if farm is None:
            return
        at_m = round(float(chainage_m(farm, draft.creek, x, y)[0]), 1 if fine else 0)
        other = draft.to_m if which == "from_m" else draft.from_m
        limit = self.creek_length_m() if which == "from_m" and other is None else other
        if which == "from_m":
            at_m = max(min(at_m, (limit or at_m + 1.0) - 1.0), 0.0)
        else:
            at_m = max(at_m, (limit or 0.0) + 1.0)
            at_m = min(at_m, self.creek_length_m() or at_m)
        self.over_map.pointer = (x, y, f"{'from' if which == 'from_m' else 'to'} {at_m:.0f} m")
        self.bench.strip.read(f"{at_m:.0f} m along {draft.creek}")
        self.live.change(replace(draft, **{which: at_m}))  # type: ignore[arg-type]

    def _whole_creek(self) -> None:
        self._begun = self.over_map.begun = None
        self.live.change(replace(self.live.draft, from_m=None, to_m=None))
        self.bench.guide()

    def _show_it(self) -> None:
        if self.live.worked is not None and self.live.worked.picture.bounds is not None:
            self.bench.map_view.show_ground(self.live.worked.picture.bounds)

    # What follows

    def _draft_changed(self) -> None:
        self.box.show_draft(self.creek_length_m())
        if self._held is None:
            self.bench.guide()

    def _worked_out(self) -> None:
        now = self.bench.contents.now
        if now is not None:
            self.box.show_worked(now.scene.theme)
        if self._held is None:
            self.bench.guide()
        self.bench.map_view.key_changed.emit()
        self.bench.map_view.update()

    def _sketched(self) -> None:
        self.box.show_about()
        self.bench.map_view.update()

    def _year_changed(self, year: int) -> None:
        self.live.show_year(year)
        self.box.show_outlook()

    def _offer(self) -> None:
        """Find kinds of plants, rules and recipes in the background, then show the box's fields."""
        farm = self.bench.farm
        if farm is None:
            return
        is_new = self._is_new

        def find(_progress: Progress) -> Offered:
            from farmmap.window.tools.planting.workings import example_recipes, kinds_of, read_recipe, rule_sets

            examples: list[tuple[Path, str]] = []
            for path in example_recipes():
                try:
                    examples.append((path, read_recipe(farm, path).title))
                except FarmmapError:
                    examples.append((path, path.stem))
            examples.sort(key=lambda example: example[1])
            return kinds_of(farm, None).known(), dict(rule_sets()), examples

        def take(offered: Offered) -> None:
            names, rules, examples = offered
            self.box.offer(names, rules, examples)
            self.box.follow_farm(farm if self.bench.farm is None else self.bench.farm)
            self._draft_changed()
            if is_new and examples:
                self.live.read(examples[0][0])
            else:
                self.live.work_out()

        self.bench.jobs.start("planting offer", find, take, owner=self.live)
