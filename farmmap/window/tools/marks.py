"""Marking trees for thinning on the map: crop, to be taken out, or left."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QApplication, QButtonGroup, QHBoxLayout, QLabel, QToolButton, QWidget

from farmmap.scene.pick import everything_at
from farmmap.window.map_view import NEAR_MM
from farmmap.window.tools.bench import Bench, Spot
from farmmap.window.tools.placing import PlacingTool
from farmmap.window.tools.sketch import Outline, paint_outline

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.editing.snapping import Snap
    from farmmap.farm.farm import Farm
    from farmmap.window.map_contents import Contents

MARKS = {"crop": "Crop", "take": "Take out", "": "Leave"}
"""Marks in the order in which a click goes through them, from the one that is left; and what their buttons say."""
SAID = {"crop": "crop tree", "take": "to be taken out", "": "left"}
"""How a tree is told of."""
KEYS = {Qt.Key.Key_C: "crop", Qt.Key.Key_T: "take", Qt.Key.Key_L: ""}
"""A letter for each mark."""
_TURNS = {"": "crop", "crop": "take", "take": ""}


class MarkTool(PlacingTool):
    """Turns the tree that is clicked; a drag from a tree marks all that it passes over, with Shift all in a rectangle.

    What is chosen on the map stays chosen, so that the panel in sight stays too.
    """

    cursor = Qt.CursorShape.PointingHandCursor
    snaps = False

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.mark = "take"
        """What a drag marks with."""
        self.buttons: dict[str, QToolButton] = {}
        self.swept: dict[int, tuple[float, float]] = {}
        """Trees that the drag has passed over, and where they stand. [m]"""
        self._from: QPointF | None = None
        self._at = QPointF()
        self._boxes = False
        self._drags = False

    def options(self) -> QWidget:
        """Return the choice of what a drag marks with."""
        holder = QWidget()
        row = QHBoxLayout(holder)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2)
        row.addWidget(QLabel("A drag marks"))
        group = QButtonGroup(holder)
        for mark, words in MARKS.items():
            button = QToolButton()
            button.setText(words)
            button.setCheckable(True)
            button.setProperty("tool", True)
            button.setChecked(mark == self.mark)
            button.setAccessibleName(f"A drag marks: {words}")
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.toggled.connect(lambda on, mark=mark: self._set_mark(mark) if on else None)
            group.addButton(button)
            row.addWidget(button)
            self.buttons[mark] = button
        return holder

    def words(self) -> str:
        """Return what may be done next."""
        return "Click turns a tree: crop, take out, leave. Or C, T, L. Drag from a tree, or with Shift, for many."

    # Events

    def pressed(self, event: QMouseEvent) -> bool:
        """Begin to pass over trees from the one under the pointer, or a rectangle when Shift is held."""
        self._boxes = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        self.hovered(event)
        if not self._boxes and (self.spot is None or self.spot.snap is None):
            return False
        self._from = self._at = event.position()
        self._drags = False
        return True

    def dragged(self, event: QMouseEvent) -> None:
        """Take in what lies between the pointer and where it was, or draw the rectangle out."""
        if self._from is None:
            return
        self._drags = self._drags or (
            (event.position() - self._from).manhattanLength() >= QApplication.startDragDistance()
        )
        if not self._drags:
            return
        if self._boxes:
            self._at = event.position()
            self.swept = self._in_rectangle()
        else:
            self.swept |= self._passed(self._at, event.position())
            self._at = event.position()
        self._point(self.bench.map_view.ground_at(event.position()))

    def released(self, event: QMouseEvent) -> None:
        """Mark what was passed over; without a drag, turn the tree under the pointer."""
        swept, drags, boxes = self.swept, self._drags, self._boxes
        self._drop()
        if not drags:
            if not boxes:
                self.clicked(event)
        elif swept:
            self._set(swept, self.mark)
        else:
            self.bench.strip.note("No tree lies there; nothing was marked.")

    def put(self, spot: Spot) -> None:
        """Turn the tree at a place from left to crop, from crop to be taken out, and from that to left."""
        tree = self._tree_at(*spot.place)
        if tree is None:
            self.bench.strip.note("No tree stands there. Click a tree, or drag from one over others.")
            return

        def make(farm: Farm) -> Proposed:
            from farmmap.plans.thinning.marks import mark_set

            own = farm.trees["mark"]
            return mark_set(farm, [tree], _TURNS[str(own.loc[tree])] if tree in own.index else "crop")

        self.bench.propose(make)

    def put_again(self) -> None:
        """Turn the tree under the cross-hair or the pointer once more."""
        if self.spot is not None:
            self.put(self.spot)

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Mark the tree under the pointer by its letter; else as for every tool that points at a place."""
        key = Qt.Key(event.key())
        plain = event.modifiers() in (Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier)
        if key in KEYS and plain:
            self._mark_under(KEYS[key])
            return True
        if key == Qt.Key.Key_Escape:
            if self.swept or self._from is not None:
                self._drop()
            else:
                self.bench.lay_down()
            return True
        return super().key_pressed(event)

    def opens_exact_line(self, event: QKeyEvent) -> bool:  # noqa: ARG002 - trees are pointed at, not typed
        """No place is typed."""
        return False

    def end(self) -> None:
        """Mark nothing that is half passed over."""
        self._drop()
        super().end()

    def farm_changed(self) -> None:
        """Tell of the tree under the pointer as it is marked now."""
        if self.spot is not None:
            self._point(self.spot.place, by_keys=self.spot.by_keys)

    def paint(self, painter: QPainter) -> None:
        """Paint the trees that were passed over, and the rectangle."""
        if self.bench.contents.now is not None and self.bench.map_view.view is not None:
            painter.save()
            inks = self.bench.inks()
            if self.swept:
                painter.setRenderHint(QPainter.RenderHint.Antialiasing)
                outline = _outline(self.swept)
                paint_outline(painter, self.bench.dots(outline.points), outline, inks, sure=False)
            if self._boxes and self._drags and self._from is not None:
                ground = QColor(inks.stroke)
                ground.setAlphaF(0.15)
                painter.setBrush(ground)
                painter.setPen(QPen(inks.stroke, 1.5, Qt.PenStyle.DashLine))
                painter.drawRect(QRectF(self._from, self._at).normalized())
            painter.restore()
        super().paint(painter)

    def pointer_lines(self) -> list[str]:
        """Return how many trees were passed over."""
        if not self.swept:
            return []
        many = len(self.swept)
        return [f"{many} {'tree' if many == 1 else 'trees'}: {SAID[self.mark]}"]

    # How it is done

    def _point(self, ground: tuple[float, float] | None, *, snap: bool = True, by_keys: bool = False) -> None:
        super()._point(ground, snap=snap, by_keys=by_keys)
        tree = None if self.spot is None or self.swept else self._tree_at(*self.spot.place)
        if self.spot is not None and tree is not None:
            around = self._told(tree)
            self.spot = Spot(around.x, around.y, around, by_keys)
            self.moved()

    def _told(self, tree: int) -> Snap:
        """Return where a tree stands, with what it is and how it is marked."""
        from farmmap.editing.snapping import Snap

        now = self._now()
        assert now is not None
        row, there = now.farm.trees.loc[tree], now.standing
        place = int(np.flatnonzero(there.ids == tree)[0])
        dbh_cm = float(there.dbh_cm[place])
        size = f" {dbh_cm:.1f} cm" if np.isfinite(dbh_cm) else ""
        name = f"{row['tag'] or 'no tag'}, {there.species_labels[int(there.species[place])]}{size}"
        # a square is painted around it, as a ring is the sign of a crop tree
        return Snap("corner", float(row["x"]), float(row["y"]), f"{name}: {SAID[str(row['mark'])]}")

    def _tree_at(self, x: float, y: float) -> int | None:
        now = self._now()
        if now is None:
            return None
        within_m = self.bench.metres(NEAR_MM)
        layers = now.pickable() - {"blocks", "margins"}
        found = everything_at(now.farm, now.standing, (), x, y, within_m, layers)
        return found[0].id if found else None

    def _now(self) -> Contents | None:
        """Return what the map shows, None while that is another farm than the one at hand."""
        now = self.bench.contents.now
        return None if now is None or now.farm is not self.bench.farm else now

    def _passed(self, start: QPointF, end: QPointF) -> dict[int, tuple[float, float]]:
        """Trees that stand near the line between two places of the map."""
        view, now = self.bench.map_view, self._now()
        one, other = view.ground_at(start), view.ground_at(end)
        if now is None or one is None or other is None:
            return {}
        within = self.bench.metres(NEAR_MM)
        near = _places_in(now, one, other, within)
        x, y = now.standing.x[near], now.standing.y[near]
        along = np.array(other) - np.array(one)
        length = float(along @ along)
        share = np.clip(((x - one[0]) * along[0] + (y - one[1]) * along[1]) / max(length, 1e-9), 0, 1)
        away = np.hypot(x - one[0] - share * along[0], y - one[1] - share * along[1])
        return _where(now, near[away <= within])

    def _in_rectangle(self) -> dict[int, tuple[float, float]]:
        view, now = self.bench.map_view, self._now()
        one, other = (view.ground_at(place) for place in (self._from or self._at, self._at))
        if now is None or one is None or other is None:
            return {}
        return _where(now, _places_in(now, one, other, 0.0))

    def _set(self, trees: dict[int, tuple[float, float]], mark: str) -> None:
        ids = list(trees)

        def make(farm: Farm) -> Proposed:
            from farmmap.plans.thinning.marks import mark_set

            return mark_set(farm, ids, mark)

        self.bench.propose(make, [_outline(trees)])

    def _mark_under(self, mark: str) -> None:
        """Mark the tree under the pointer or the cross-hair; with none there, let drags mark so."""
        tree = None if self.spot is None else self._tree_at(*self.spot.place)
        if tree is not None and self.spot is not None:
            self._set({tree: self.spot.place}, mark)
            return
        self.buttons[mark].setChecked(True)
        self.bench.strip.note(f"No tree is under the pointer. A drag now marks: {MARKS[mark].lower()}.")

    def _set_mark(self, mark: str) -> None:
        self.mark = mark
        self.bench.map_view.update()

    def _drop(self) -> None:
        self.swept, self._from, self._drags, self._boxes = {}, None, False, False
        self.bench.strip.read("")
        self.bench.map_view.update()


def _places_in(now: Contents, one: tuple[float, float], other: tuple[float, float], beyond: float) -> NDArray[np.intp]:
    """Places in ``now.standing`` of trees in sight between two corners and a little beyond. [m]."""
    (west, east), (south, north) = (sorted(pair) for pair in zip(one, other, strict=True))
    if "trees" in now.hidden:
        return np.zeros(0, np.intp)
    x, y = now.standing.x, now.standing.y
    inside = (x >= west - beyond) & (x <= east + beyond) & (y >= south - beyond) & (y <= north + beyond)
    near = np.flatnonzero(inside)
    shown = np.array([f"species:{name}" not in now.hidden for name in now.standing.species_names], bool)
    return near[shown[now.standing.species[near]]]


def _where(now: Contents, places: NDArray[np.intp]) -> dict[int, tuple[float, float]]:
    there = now.standing
    spots = zip(there.x[places].tolist(), there.y[places].tolist(), strict=True)
    return dict(zip(there.ids[places].tolist(), spots, strict=True))


def _outline(trees: dict[int, tuple[float, float]]) -> Outline:
    return Outline(np.array(list(trees.values())).reshape(-1, 2), apart=True)
