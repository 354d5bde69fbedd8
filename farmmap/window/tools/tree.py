"""Placing trees, and moving them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import QApplication, QCheckBox, QHBoxLayout, QLabel, QWidget

from farmmap.window.map_view import NEAR_MM
from farmmap.window.species_choice import SpeciesChoice
from farmmap.window.tools.bench import Bench, Spot
from farmmap.window.tools.placing import ARROWS, PlacingTool, may_snap
from farmmap.window.tools.readings import length_words
from farmmap.window.tools.reshape import FINE_M, STEP_M
from farmmap.window.tools.rows_on_map import rows_at, words_of
from farmmap.window.tools.sketch import Outline, paint_outline

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm

NAME_CHARACTERS = 20
"""So much of a species' name and code is seen at least."""
AT_TREE_M = 0.05
"""Nearer than this to the tree that is picked, nothing is read from it to the pointer. [m]"""


class TreeTool(PlacingTool):
    """Click places a tree, drag moves one; what is picked moves together."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.species = ""
        self.planned = False
        self._moving: list[int] = []
        self._from: tuple[float, float] | None = None
        self._to: tuple[float, float] | None = None
        self._pressed_at = QPointF()
        self._by_keys = False

    def begin(self) -> None:
        """Begin with the species of the tree that is picked, else of those in the middle of the map."""
        farm, view = self.bench.farm, self.bench.map_view
        if farm is not None and len(farm.trees):
            from farmmap.editing.trees import neighbour_of

            picked = self.bench.picks.of("trees")
            known = [id_ for id_ in picked if id_ in farm.trees.index]
            middle = view.ground_at(QPointF(view.rect().center()))
            tree = known[-1] if known else neighbour_of(farm, *middle) if middle is not None else None
            self.species = "" if tree is None else str(farm.trees["species"].loc[tree])

    def options(self) -> QWidget:
        """Return the choice of species, and whether trees are only planned."""
        farm = self.bench.farm
        assert farm is not None
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        label = QLabel("Species")
        choice = SpeciesChoice(farm, self.species)
        choice.setMinimumContentsLength(NAME_CHARACTERS)
        choice.setAccessibleName("Species of new trees")
        choice.setToolTip("Species of the trees that are placed")
        choice.currentTextChanged.connect(lambda _text: self._set_species(choice.code))
        label.setBuddy(choice)
        planned = QCheckBox("planned")
        planned.setToolTip("Trees that do not stand yet")
        planned.toggled.connect(self._set_planned)
        for widget in (label, choice, planned):
            row.addWidget(widget)
        return holder

    def words(self) -> str:
        """Return what may be done next."""
        farm = self.bench.farm
        picked = self.bench.picks.of("trees")
        if self._moving and self._by_keys:
            return "Arrow keys move 1 m, with Shift 0.1 m; Enter sets down; Escape leaves all as it was."
        if picked and farm is not None:
            words = words_of(farm, [("trees", id_) for id_ in picked])
            return f"{words[:1].upper()}{words[1:]}: drag, or Space and arrow keys. Click places another."
        return "Click places a tree, drag moves one. Or arrow keys, Enter and Space."

    # Events

    def pressed(self, event: QMouseEvent) -> bool:
        """Take hold of the tree under the pointer."""
        self._drop()
        ground = self.bench.map_view.ground_at(event.position())
        tree = None if ground is None else self._tree_at(*ground)
        if tree is None:
            return False
        self.bench.exact_line.shut()
        self._pressed_at = event.position()
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.bench.picks.turn(("trees", tree))
            return True
        self._take(tree)
        return True

    def dragged(self, event: QMouseEvent) -> None:
        """Drag it, and all that are picked with it."""
        far = (event.position() - self._pressed_at).manhattanLength() >= QApplication.startDragDistance()
        if not self._moving or (self._to is None and not far):
            return
        self._point(self.bench.map_view.ground_at(event.position()), snap=may_snap(event))
        self._to = None if self.spot is None else self.spot.place
        self._read()

    def released(self, event: QMouseEvent) -> None:  # noqa: ARG002 - where it was dragged to is known
        """Set down what was dragged."""
        self.spot = None
        self._set_down()

    def put(self, spot: Spot) -> None:
        """Place a tree; on one that stands there, pick it."""
        standing = self._tree_at(spot.x, spot.y) if spot.snap is not None and spot.snap.kind == "tree" else None
        if standing is not None:
            self.bench.picks.pick([("trees", standing)])
            return
        values: dict[str, object] = {"stage": "planned" if self.planned else "existing"}
        if self.species:
            values["species"] = self.species

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.trees import tree_placed

            return tree_placed(farm, spot.x, spot.y, values)

        def pick(proposed: Proposed) -> None:
            self.bench.picks.pick([("trees", int(proposed.edit.changes["trees"].added[0]))])

        self.bench.propose(make, [Outline(np.array([spot.place]), apart=True)], pick)

    def leg_start(self) -> tuple[float, float] | None:
        """Return where the picked tree stands, so that the next can be set out from it."""
        farm, picked = self.bench.farm, self.bench.picks.of("trees")
        if farm is None or len(picked) != 1 or picked[0] not in farm.trees.index:
            return None
        return float(farm.trees["x"].loc[picked[0]]), float(farm.trees["y"].loc[picked[0]])

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Take trees up and move them; take away what is picked; else as for every tool that places something."""
        key = Qt.Key(event.key())
        if self._moving and self._by_keys:
            return self._carry(key, event)
        if key == Qt.Key.Key_Space:
            self._take_up()
            return True
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._take_away()
            return True
        if key == Qt.Key.Key_Escape:
            if self.bench.picks.rows:
                self.bench.picks.pick([])
            else:
                self.bench.lay_down()
            return True
        return super().key_pressed(event)

    def end(self) -> None:
        """Set down nothing that is half moved."""
        self._drop()
        super().end()

    def farm_changed(self) -> None:
        """Let go of what is half moved: it may stand elsewhere now."""
        self._drop()

    def paint(self, painter: QPainter) -> None:
        """Paint the trees where they would be set down."""
        if self._to is not None and self.bench.contents.now is not None and self.bench.map_view.view is not None:
            painter.save()
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            outline = self._moved_outline()
            paint_outline(painter, self.bench.dots(outline.points), outline, self.bench.inks(), sure=False)
            painter.restore()
        super().paint(painter)

    def pointer_lines(self) -> list[str]:
        """Return how far the trees were moved."""
        farm, start = self.bench.farm, self._from if self._to is not None else self.leg_start()
        if farm is None or start is None or self.aim is None:
            return []
        if self._to is None and np.hypot(start[0] - self.aim[0], start[1] - self.aim[1]) < AT_TREE_M:
            return []
        words = length_words(farm, [start, self._to or self.aim], with_bearing=True)
        return [f"moved {words}" if self._to is not None else f"{words} from the tree that is picked"]

    # How it is done

    def _tree_at(self, x: float, y: float) -> int | None:
        now = self.bench.contents.now
        if now is None or now.farm is not self.bench.farm:
            return None
        found = [row for row in rows_at(now, x, y, self.bench.metres(NEAR_MM)) if row[0] == "trees"]
        return found[0][1] if found else None

    def _take(self, tree: int) -> None:
        farm = self.bench.farm
        assert farm is not None
        if tree not in self.bench.picks.of("trees"):
            self.bench.picks.pick([("trees", tree)])
        self._moving = self.bench.picks.of("trees")
        self._from = float(farm.trees["x"].loc[tree]), float(farm.trees["y"].loc[tree])
        self._to = None
        self._by_keys = False

    def _take_up(self) -> None:
        """Take up the tree under the cross-hair, else those that are picked, to move them by keys."""
        under = None if self.spot is None else self._tree_at(*self.spot.place)
        picked = self.bench.picks.of("trees")
        tree = under if under is not None else picked[-1] if picked else None
        if tree is None:
            self.bench.strip.note("No tree is near the cross-hair, and none is picked.")
            return
        self._take(tree)
        self._by_keys = True
        self.spot = None
        self.bench.guide()

    def _carry(self, key: Qt.Key, event: QKeyEvent) -> bool:
        farm = self.bench.farm
        if key in ARROWS and farm is not None and self._from is not None:
            x, y = self._to or self._from
            fine = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            step = (FINE_M if fine else STEP_M) * farm.grid.scale(x, y)
            self._to = x + ARROWS[key][0] * step, y + ARROWS[key][1] * step
            self._read()
            self.bench.map_view.update()
            return True
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._set_down()
            return True
        if key == Qt.Key.Key_Escape:
            self._drop()
            self.bench.guide()
            return True
        return False

    def _read(self) -> None:
        farm = self.bench.farm
        if farm is not None and self._from is not None and self._to is not None:
            words = length_words(farm, [self._from, self._to], with_bearing=True)
            self.bench.strip.read(f"moved {words}")

    def _moved_outline(self) -> Outline:
        farm = self.bench.farm
        assert farm is not None
        assert self._from is not None
        assert self._to is not None
        places = farm.trees.index.get_indexer(self._moving)
        xy = np.stack([farm.trees[axis].to_numpy()[places] for axis in "xy"], axis=1)
        return Outline(xy + (np.array(self._to) - np.array(self._from)), apart=True)

    def _set_down(self) -> None:
        moving, start, end = self._moving, self._from, self._to
        outline = None if end is None or not moving else self._moved_outline()
        self._drop()
        if outline is not None and start is not None and end is not None:

            def make(farm: Farm) -> Proposed:
                from farmmap.editing.trees import trees_moved

                return trees_moved(farm, moving, end[0] - start[0], end[1] - start[1])

            self.bench.propose(make, [outline])
        self.bench.guide()

    def _drop(self) -> None:
        self._moving, self._from, self._to, self._by_keys = [], None, None, False
        self.bench.strip.read("")
        self.bench.map_view.update()

    def _take_away(self) -> None:
        """Hand over to the tool for picking, which shows what goes first."""
        if self.bench.picks.of("trees"):
            self.bench.ask_to_take_away()

    def _set_species(self, code: str) -> None:
        self.species = code

    def _set_planned(self, planned: bool) -> None:
        self.planned = planned
