"""Moving, adding and taking out corners of what is drawn, neighbours along shared edges with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtCore import QPointF, Qt, QTimer
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import QApplication

from farmmap.editing.corners import Corner, EdgePlace, corner_near, corners_of, edge_near
from farmmap.errors import BadInput
from farmmap.window.map_view import NEAR_MM
from farmmap.window.tools.bench import SHAPED, Bench, Spot
from farmmap.window.tools.placing import ARROWS, PlacingTool, may_snap
from farmmap.window.tools.readings import length_words
from farmmap.window.tools.rows_on_map import next_of, rows_at, words_of
from farmmap.window.tools.sentences import words_of_error
from farmmap.window.tools.sketch import Outline, outlines_of, paint_handle, paint_outline

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm
    from farmmap.window.tools.picks import Row

STEP_M, FINE_M = 1.0, 0.1
"""How far an arrow key moves the chosen corner, and with Shift. [m on the ground]"""
PAUSE_MS = 500
"""Arrow keys pressed within this time of each other are one move. [ms]"""
SAME_M = 0.001
"""Corners of neighbours that lie this near to each other are one. [m]"""
_MOST_HANDLES = 400


class ReshapeTool(PlacingTool):
    """Works on the one thing that is picked."""

    cursor = Qt.CursorShape.ArrowCursor
    snaps_to_trees = False

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.corners: tuple[Corner, ...] = ()
        self.shared = np.zeros(0, np.intp)
        """How many others of its kind share each corner."""
        self.chosen: int | None = None
        self._held: Corner | EdgePlace | None = None
        self._pressed_at = QPointF()
        self._target: tuple[float, float] | None = None
        """Where the corner that is dragged or nudged would go."""
        self._around: list[Outline] = []
        self._want: tuple[float, float] | None = None
        self._pause = QTimer()
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self.settle)

    # What it works on

    @property
    def row(self) -> Row | None:
        """Table and id of what is reshaped."""
        rows = self.bench.picks.rows
        return rows[0] if len(rows) == 1 and rows[0][0] in SHAPED else None

    def begin(self) -> None:
        """Show the corners of what is picked."""
        self.bench.picks.changed.connect(self._picks_changed)
        self._read_corners()

    def end(self) -> None:
        """Carry out what waits."""
        self.settle()
        self.bench.picks.changed.disconnect(self._picks_changed)
        super().end()

    def farm_changed(self) -> None:
        """Show the corners as they are now."""
        self._read_corners()

    def words(self) -> str:
        """Return what may be done next."""
        if self.row is None or self.bench.farm is None:
            return "Click the block, creek, fence or track that is to be reshaped."
        if self.chosen is None:
            name = words_of(self.bench.farm, [self.row])
            return (
                f"Drag a corner of {name}; click on an edge to add one. Tab goes from corner to corner, "
                "Insert adds one after it."
            )
        others = int(self.shared[self.chosen])
        shared = " A neighbour shares it and moves along." if others == 1 else ""
        if others > 1:
            shared = f" {others} neighbours share it and move along."
        return (
            f"Corner {self.chosen + 1} of {len(self.corners)}.{shared} Arrow keys move it 1 m, with Shift 0.1 m; "
            "Delete takes it away; or type where to: 2 m at 90."
        )

    # Events

    def pressed(self, event: QMouseEvent) -> bool:
        """Take hold of a corner or an edge."""
        self.settle()
        self.bench.exact_line.shut()
        farm, ground = self.bench.farm, self.bench.map_view.ground_at(event.position())
        if farm is None or ground is None:
            return False
        within = self.bench.metres(NEAR_MM)
        if self.row is None:
            corner = corner_near(farm, *ground, within, self._in_sight())
            if corner is None:
                return False
            self.bench.picks.pick([(corner.table, corner.id)])
        self._held = corner_near(farm, *ground, within, SHAPED, only=self.row)
        if self._held is None:
            self._held = edge_near(farm, *ground, within, SHAPED, only=self.row)
        if self._held is None:
            return False
        self._pressed_at = event.position()
        self._take_around(self._held)
        if isinstance(self._held, Corner):
            self.chosen = self._place_of(self._held)
        self.bench.guide()
        return True

    def dragged(self, event: QMouseEvent) -> None:
        """Drag it."""
        far = (event.position() - self._pressed_at).manhattanLength() >= QApplication.startDragDistance()
        if self._held is None or (self._target is None and not far):
            return
        self._point(self.bench.map_view.ground_at(event.position()), snap=may_snap(event))
        self._target = None if self.spot is None else self.spot.place
        self._read()

    def released(self, event: QMouseEvent) -> None:  # noqa: ARG002 - where it was dragged to is known
        """Put it where it was dragged to; a click on an edge adds a corner there."""
        held, target, self._held = self._held, self._target, None
        self.spot = None
        if target is None and isinstance(held, EdgePlace):
            target = held.x, held.y
        if held is None or target is None:
            self._target = None
        elif isinstance(held, Corner):
            self._move(held, target)
        else:
            self._add(held, target)
        self.bench.strip.read("")
        self.bench.guide()

    def clicked(self, event: QMouseEvent) -> bool:
        """Pick what is to be reshaped."""
        self._pick(event.position())
        return True

    def double_clicked(self, event: QMouseEvent) -> bool:  # noqa: ARG002 - both clicks were told already
        """Come no closer."""
        return True

    def hovered(self, event: QMouseEvent) -> None:  # noqa: ARG002 - nothing is pointed at until a corner is held
        """Point at nothing."""
        if self.spot is not None and not self.bench.exact_line.isVisible():
            self.spot = None

    def key_pressed(self, event: QKeyEvent) -> bool:  # noqa: PLR0911 - one return for each key
        """Go from corner to corner, move, add and take out."""
        key = Qt.Key(event.key())
        if key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            return self._step(-1 if key == Qt.Key.Key_Backtab else 1)
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self._target is not None:
                self.settle()
            else:
                self._pick(self.bench.room().center())
            return True
        if key == Qt.Key.Key_Escape:
            self._give_up()
            return True
        if self.chosen is None:
            if self.opens_exact_line(event):
                self.bench.strip.note("Click a corner first, or press Tab; then type where it is to go.")
                return True
            return False
        if key in ARROWS:
            self._nudge(*ARROWS[key], fine=bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))
            return True
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._take_out()
            return True
        if key in (Qt.Key.Key_Insert, Qt.Key.Key_A):
            self._add_after()
            return True
        return super().key_pressed(event)

    def put(self, spot: Spot) -> None:
        """Move the chosen corner to a place that was typed."""
        self.spot = None
        self.settle()
        if self.chosen is not None:
            corner = self.corners[self.chosen]
            self._take_around(corner)
            self._target = spot.place
            self._move(corner, spot.place)

    def leg_start(self) -> tuple[float, float] | None:
        """Return the place of the chosen corner, from which lengths are typed."""
        return None if self.chosen is None else (self.corners[self.chosen].x, self.corners[self.chosen].y)

    def leave_out(self) -> Row | None:
        """Return what is reshaped, which is not snapped to."""
        return self.row

    def settle(self) -> None:
        """Carry out the move that arrow keys have made."""
        self._pause.stop()
        if self._target is not None and self._held is None and self.chosen is not None:
            self._move(self.corners[self.chosen], self._target)

    # Painting

    def paint(self, painter: QPainter) -> None:
        """Paint the corners, and what is dragged."""
        if self.bench.contents.now is None or self.bench.map_view.view is None or not self.corners:
            super().paint(painter)
            return
        inks = self.bench.inks()
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        target = self._target
        for outline in [] if target is None else self._moved_outlines(target):
            paint_outline(painter, self.bench.dots(outline.points), outline, inks, sure=False)
        dots = self.bench.dots(np.array([(corner.x, corner.y) for corner in self.corners]))
        room = self.bench.room().adjusted(-10, -10, 10, 10)
        seen = [place for place, (x, y) in enumerate(dots) if room.contains(QPointF(x, y))]
        every = max(1, -(-len(seen) // _MOST_HANDLES))
        for place in seen[::every]:
            if place != self.chosen:
                paint_handle(painter, QPointF(*dots[place]), inks, shared=bool(self.shared[place]))
        if self.chosen is not None:
            here = (
                dots[self.chosen] if target is None or self._held_is_edge() else self.bench.dots(np.array([target]))[0]
            )
            paint_handle(painter, QPointF(*here), inks, chosen=True, shared=bool(self.shared[self.chosen]))
        painter.restore()
        super().paint(painter)

    def pointer_lines(self) -> list[str]:
        """Return how far the corner was dragged."""
        held, target, farm = self._held, self._target, self.bench.farm
        if held is None or target is None or farm is None:
            return []
        return [f"moved {length_words(farm, [(held.x, held.y), target], with_bearing=True)}"]

    # How it is done

    def _held_is_edge(self) -> bool:
        return isinstance(self._held, EdgePlace)

    def _read(self) -> None:
        self.bench.strip.read("   ".join(self.pointer_lines()))

    def _read_corners(self) -> None:
        row, farm = self.row, self.bench.farm
        self._held = self._target = None
        self._around = []
        self.chosen = None
        self.corners, self.shared = (), np.zeros(0, np.intp)
        if row is not None and farm is not None:
            try:
                self.corners = corners_of(farm, *row)
            except BadInput:
                return
            self.shared = _shared(farm, row, self.corners)
            if self._want is not None:
                self.chosen = self._nearest(self._want)
        self.bench.map_view.update()

    def _nearest(self, place: tuple[float, float]) -> int | None:
        if not self.corners:
            return None
        away = [np.hypot(corner.x - place[0], corner.y - place[1]) for corner in self.corners]
        nearest = int(np.argmin(away))
        return nearest if away[nearest] <= self.bench.metres(NEAR_MM) else None

    def _place_of(self, corner: Corner) -> int | None:
        where = (corner.part, corner.ring, corner.place)
        for place, one in enumerate(self.corners):
            if (one.part, one.ring, one.place) == where:
                return place
        return None

    def _picks_changed(self) -> None:
        self._pause.stop()
        self._want = None
        self._read_corners()

    def _pick(self, place: QPointF) -> None:
        now, ground = self.bench.contents.now, self.bench.map_view.ground_at(place)
        if now is None or ground is None or now.farm is not self.bench.farm:
            return
        within = self.bench.metres(NEAR_MM)
        found = [row for row in rows_at(now, *ground, within) if row[0] in SHAPED]
        row = next_of(found, self.bench.picks.rows)
        if row is None and (edge := edge_near(now.farm, *ground, within, self._in_sight())) is not None:
            row = edge.table, edge.id  # just outside of its outline
        self.bench.picks.pick([] if row is None else [row])

    def _in_sight(self) -> list[str]:
        return [name for name in SHAPED if name not in self.bench.session.hidden]

    def _step(self, step: int) -> bool:
        """Go to the next corner; False if there is none, so that Tab leaves the map."""
        self.settle()
        if not self.corners:
            return False
        here = self.chosen
        self.chosen = (0 if step > 0 else len(self.corners) - 1) if here is None else (here + step) % len(self.corners)
        corner = self.corners[self.chosen]
        self._want = corner.x, corner.y
        self.bench.map_view.go_to(corner.x, corner.y)
        self.bench.guide()
        return True

    def _nudge(self, east: float, north: float, *, fine: bool) -> None:
        assert self.chosen is not None
        corner, farm = self.corners[self.chosen], self.bench.farm
        if farm is None or self.bench.why_not():
            return
        if self._target is None:
            self._take_around(corner)
        x, y = self._target or (corner.x, corner.y)
        step = (FINE_M if fine else STEP_M) * farm.grid.scale(x, y)
        self._target = x + east * step, y + north * step
        words = length_words(farm, [(corner.x, corner.y), self._target], with_bearing=True)
        self.bench.strip.read(f"moved {words}")
        self._pause.start()
        self.bench.map_view.update()

    def _give_up(self) -> None:
        self._pause.stop()
        if self._target is not None:
            self._target = None
            self.bench.strip.read("")
        elif self.chosen is not None:
            self.chosen = self._want = None
        elif self.bench.picks.rows:
            self.bench.picks.pick([])
        else:
            self.bench.lay_down()
            return
        self.bench.guide()

    def _take_around(self, held: Corner | EdgePlace) -> None:
        """Remember the shapes that have a corner where one is held, or are bent by a new one."""
        farm = self.bench.farm
        assert farm is not None
        frame = farm.tables[held.table]
        shapes = np.asarray(frame["geometry"].array, object)
        near = shapely.dwithin(shapes, shapely.Point(held.x, held.y), SAME_M)
        self._around = outlines_of(shapes[near | (frame.index.to_numpy() == held.id)])

    def _moved_outlines(self, target: tuple[float, float]) -> list[Outline]:
        held = self._held
        if held is None and self.chosen is not None:
            held = self.corners[self.chosen]
        if held is None:
            return []
        if isinstance(held, Corner):
            return [_with_moved(outline, (held.x, held.y), target) for outline in self._around]
        return [_with_added(outline, (held.x, held.y), target) for outline in self._around]

    def _move(self, corner: Corner, target: tuple[float, float]) -> None:
        outlines = [_with_moved(outline, (corner.x, corner.y), target) for outline in self._around]
        self._target = None
        if np.hypot(corner.x - target[0], corner.y - target[1]) < SAME_M / 10:
            return
        self._want = target

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.reshape import corner_moved

            return corner_moved(farm, _again(farm, corner), *target)

        self.bench.propose(make, outlines, None, lambda error: self._refused(error, (corner.x, corner.y)))

    def _add(self, edge: EdgePlace, target: tuple[float, float]) -> None:
        outlines = [_with_added(outline, (edge.x, edge.y), target) for outline in self._around]
        self._target = None
        self._want = target

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.reshape import corner_added

            again = edge_near(farm, edge.x, edge.y, SAME_M * 10, SHAPED, only=(edge.table, edge.id))
            if again is None:
                raise BadInput("The edge has changed since; try again.")
            return corner_added(farm, again, *target)

        self.bench.propose(make, outlines, None, lambda error: self._refused(error, None))

    def _add_after(self) -> None:
        """Put a corner half way to the next one."""
        assert self.chosen is not None
        self.settle()
        corner = self.corners[self.chosen]
        ring = [one for one in self.corners if (one.part, one.ring) == (corner.part, corner.ring)]
        following = ring[(corner.place + 1) % len(ring)]
        if following.place == 0 and self.row is not None and self._is_line():
            self.bench.strip.note("The line ends here; choose another corner to add one after it.")
            return
        x, y = (corner.x + following.x) / 2, (corner.y + following.y) / 2
        edge = EdgePlace(corner.table, corner.id, corner.part, corner.ring, corner.place, x, y)
        self._take_around(edge)
        self._add(edge, (x, y))

    def _is_line(self) -> bool:
        farm, row = self.bench.farm, self.row
        assert farm is not None
        assert row is not None
        shape = farm.tables[row[0]]["geometry"].loc[row[1]]
        return shapely.area(shape) == 0

    def _take_out(self) -> None:
        assert self.chosen is not None
        self.settle()
        corner = self.corners[self.chosen]
        ring = [one for one in self.corners if (one.part, one.ring) == (corner.part, corner.ring)]
        before = ring[corner.place - 1]
        self._want = before.x, before.y

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.reshape import corner_removed

            return corner_removed(farm, _again(farm, corner))

        self.bench.propose(make, (), None, lambda error: self._refused(error, (corner.x, corner.y)))

    def _refused(self, error: BaseException, want: tuple[float, float] | None) -> None:
        self._want = want
        self.bench.strip.note(f"{words_of_error(error)} It is left as it was.", warning=True)
        self._read_corners()


def _again(farm: Farm, corner: Corner) -> Corner:
    """Return a corner of a row as it is now, found by its place."""
    found = corner_near(farm, corner.x, corner.y, SAME_M * 2, SHAPED, only=(corner.table, corner.id))
    if found is None:
        raise BadInput("The corner has moved since; choose it again.")
    return found


def _shared(farm: Farm, row: Row, corners: tuple[Corner, ...]) -> np.ndarray:
    """Return on how many other rows of the same table each corner lies, shape (len(corners),)."""
    frame = farm.tables[row[0]]
    shapes = np.asarray(frame["geometry"].array, object)
    own = frame.index.to_numpy() == row[1]
    others = shapes[~own & shapely.dwithin(shapes, shapes[own][0], SAME_M)]
    if not len(others):
        return np.zeros(len(corners), np.intp)
    points = shapely.points([(corner.x, corner.y) for corner in corners])
    return np.stack([shapely.dwithin(points, other, SAME_M) for other in others]).sum(axis=0)


def _with_moved(outline: Outline, at: tuple[float, float], to: tuple[float, float]) -> Outline:
    points = outline.points.copy()
    points[np.hypot(points[:, 0] - at[0], points[:, 1] - at[1]) <= SAME_M] = to
    return Outline(points, outline.closed, outline.apart)


def _with_added(outline: Outline, at: tuple[float, float], to: tuple[float, float]) -> Outline:
    """Return an outline with a corner more where one of its edges runs through a place; else as it is."""
    points = outline.points
    if outline.apart or len(points) < 2:
        return outline
    edges = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    away = shapely.distance(edges, shapely.Point(at))
    nearest = int(np.argmin(away))
    if away[nearest] > SAME_M:
        return outline
    return Outline(np.insert(points, nearest + 1, to, axis=0), outline.closed)
