"""The bench that map tools work at: the farm, the map, the way edits go into the file, and where words are shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QEventLoop, QObject, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QWidget

from farmmap.errors import FarmmapError
from farmmap.window.beside import Beside
from farmmap.window.edit_queue import NotWritten
from farmmap.window.exact_line import ExactLine
from farmmap.window.farm_files import FarmFiles
from farmmap.window.jobs import Jobs
from farmmap.window.map_contents import MapContents
from farmmap.window.map_tool import MapTool, ToolKind
from farmmap.window.map_view import MapView
from farmmap.window.messages import POWER_LINE, tell
from farmmap.window.session import Session
from farmmap.window.tools.guard import guard
from farmmap.window.tools.note_strip import NoteStrip
from farmmap.window.tools.picks import Picks
from farmmap.window.tools.sentences import sentence, within, words_of_error

if TYPE_CHECKING:  # heavy to import: the window paints before they are needed
    import numpy as np

    from farmmap.editing.proposed import Proposed
    from farmmap.editing.snapping import Snap, Snapper
    from farmmap.farm.farm import Farm
    from farmmap.window.tools.sketch import Inks, Outline

SNAP_MM = 3.0
"""How far a snap reaches. [mm of screen]"""
MOST_FINE = 100
"""More picked lines and areas than this are painted plainly, so that the map moves as fast as ever."""
MOST_WAIT_MS = 10_000
"""How long a closing window waits for edits that are still to be worked out. [ms]"""
SHAPED = ("boundary", "blocks", "creeks", "fences", "tracks", "hazards", "notes")
"""Tables whose rows have a shape that is drawn, in the order in which they are drawn."""


@dataclass(frozen=True)
class Spot:
    """A place on the ground that a tool is pointed at, by mouse or by keyboard.

    Attributes
    ----------
    x, y : float
        Where, snapped. [m]
    snap : Snap or None
        What it was snapped to.
    by_keys : bool
        Whether the cross-hair points at it.
    """

    x: float
    y: float
    snap: Snap | None = None
    by_keys: bool = False

    @property
    def place(self) -> tuple[float, float]:
        """East and north [m]."""
        return self.x, self.y


@dataclass(eq=False)
class _Wanted:
    """An edit that was asked for, and what is painted until it stands on the screen."""

    make: Callable[[Farm], Proposed]
    outlines: Sequence[Outline]
    then: Callable[[Proposed], None] | None
    refused: Callable[[BaseException], None] | None
    path: Path | None
    """File of the farm that it was asked for."""
    is_written: bool = field(default=False)


class Bench(QObject):
    """One for a window; holds the tool that is in the hand."""

    changed = Signal()
    """Another tool is in the hand, or the farm may be changed no longer, or again."""

    def __init__(
        self,
        session: Session,
        contents: MapContents,
        map_view: MapView,
        files: FarmFiles,
        jobs: Jobs,
        strip: NoteStrip,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self.session, self.contents, self.map_view, self.files, self.jobs = session, contents, map_view, files, jobs
        self.strip = strip
        self.picks = Picks(session, self)
        self.exact_line = ExactLine(map_view)
        self.kind: ToolKind | None = None
        self.resting: ToolKind | None = None
        """The tool that is taken up when another is laid down."""
        self.beside: Beside | None = None
        """Where a tool's own box stands."""
        self._wanted: list[_Wanted] = []
        self._shown: list[_Wanted] = []
        self._snapper: tuple[Farm, object, Snapper] | None = None
        self._outlines: tuple[Farm, object, list[Outline]] | None = None
        self._told_of_line: set[object] = set()
        self.half_drawn: dict[object, list[tuple[float, float]]] = {}
        """Corners of shapes that were left half drawn, for when their tool is taken up again."""
        map_view.painters_over.append(self._paint)
        map_view.installEventFilter(self)
        map_view.painted.connect(self._take_away_what_is_shown)
        self.picks.changed.connect(self._picks_changed)
        session.farm_changed.connect(self._farm_changed)
        files.opened.connect(lambda _path: strip.clear_note())
        files.went.connect(strip.note)
        session.may_edit_changed.connect(self._may_edit_changed)

    # Tools

    @property
    def tool(self) -> MapTool | None:
        """The tool that is in the hand."""
        return self.map_view.tool

    def take_up(self, kind: ToolKind, choice: str = "") -> None:
        """Take a tool into the hand, and lay down the one that was in it."""
        why = self.why_not() if kind.changes else ""
        if why:
            self.strip.note(why, warning=True)
            return
        if kind.choices and not choice:
            choice = kind.choices[0].name
        try:
            tool = kind.made(self, choice)
        except Exception as error:  # noqa: BLE001 - somebody else's tool may fail in any way; the window goes on
            tell(self.map_view.window(), error)
            return
        guard(tool, self._tool_failed)
        self._lay_down_only()
        self.kind, self.map_view.tool = kind, tool
        self.strip.clear_note()
        tool.begin()
        self.strip.put_in(tool.options())
        self._put_beside(tool.beside())
        self.guide()
        tool.take_focus()
        self.changed.emit()

    def lay_down(self) -> None:
        """Lay the tool down and take up the one for picking."""
        if self.resting is not None:
            self.take_up(self.resting)
        else:
            self._lay_down_only()
            self.changed.emit()

    def rest_with(self, kind: ToolKind) -> None:
        """Take up this tool whenever another is laid down, and now if there is a farm."""
        self.resting = kind
        if self.session.farm is not None and self.tool is None:
            self.take_up(kind)

    def change_fields(self) -> None:
        """Let the fields of what is picked be changed."""
        from farmmap.window.fields_box import FieldsBox

        why = self.why_not() or ("" if self.picks.rows else "Nothing is picked; click what is to be changed first.")
        if why:
            self.strip.note(why, warning=True)
            return
        box = FieldsBox(self, self.map_view.window())
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.open()

    def ask_to_take_away(self) -> None:
        """Show what would go with what is picked, and take it away once that was answered."""
        from farmmap.window.tools.pick import PickTool

        if not isinstance(self.tool, PickTool):
            self.lay_down()
        if isinstance(self.tool, PickTool):
            self.tool.ask()
            self.map_view.setFocus(Qt.FocusReason.OtherFocusReason)

    def guide(self) -> None:
        """Say what the tool in the hand asks for now, and paint it afresh."""
        if self.tool is not None:
            self.strip.hint(self.tool.words(), self.tool.answers())
        self.map_view.update()

    def why_not(self) -> str:
        """Return why the farm may not be changed, "" if it may."""
        if self.session.farm is None:
            return "No farm is open."
        if self.session.may_edit:
            return ""
        return self.session.held_by or "This farm is open to look at only."

    # The ground

    @property
    def farm(self) -> Farm | None:
        """The farm as it is."""
        return self.session.farm

    def metres(self, mm: float) -> float:
        """Return how much ground so many millimetres of screen show [m]."""
        return 0.0 if self.map_view.view is None else mm * self.map_view.view.metres_per_mm

    def dots(self, points: np.ndarray) -> np.ndarray:
        """Return where points of the ground, shape (n, 2), lie on the map [px]."""
        import numpy as np

        assert self.map_view.view is not None
        return np.stack(self.map_view.view.to_dots(points[:, 0], points[:, 1], self.map_view.dots_per_mm()), axis=1)

    def spot(
        self,
        x: float,
        y: float,
        *,
        snap: bool = True,
        leave_out: tuple[str, int] | None = None,
        start: tuple[float, float] | None = None,
        trees: bool = True,
    ) -> Spot:
        """Return a place on the ground, snapped to what is near if wished, squarely from a start if there is one."""
        snapper = self._snapper_now(leave_out, trees=trees) if snap else None
        found = None if snapper is None else snapper.at(x, y, self.metres(SNAP_MM), start)
        return Spot(x, y) if found is None else Spot(found.x, found.y, found)

    def inks(self) -> Inks:
        """Return the colours to paint with."""
        from farmmap.window.tools.sketch import inks_of

        assert self.contents.now is not None
        return inks_of(self.contents.now.scene.theme)

    # Edits

    def propose(
        self,
        make: Callable[[Farm], Proposed],
        outlines: Sequence[Outline] = (),
        then: Callable[[Proposed], None] | None = None,
        refused: Callable[[BaseException], None] | None = None,
    ) -> None:
        """Carry out an edit.

        Parameters
        ----------
        make : callable
            Works the edit out from the farm as it is when its turn comes.
        outlines : sequence of Outline
            Painted over the map until the edit stands on the screen; taken away if it was refused.
        then : callable, optional
            Given what was carried out, once it is in the file.
        refused : callable, optional
            Given the reason if it could not be; without it the strip says why.
        """
        why = self.why_not()
        if why:
            self._refuse(_Wanted(make, outlines, then, refused, self.session.path), FarmmapError(why))
            return
        self._wanted.append(_Wanted(make, outlines, then, refused, self.session.path))
        self.map_view.update()
        if len(self._wanted) == 1:
            self._carry_out_next()

    def finish(self) -> None:
        """Lay the tool down and wait until what was asked for is in the file; called when the window closes."""
        self._lay_down_only()
        if not self._wanted:
            return
        loop, look, limit = QEventLoop(), QTimer(), QTimer()
        look.timeout.connect(lambda: None if self._wanted else loop.quit())
        limit.timeout.connect(loop.quit)
        look.start(10)
        limit.start(MOST_WAIT_MS)
        loop.exec()

    @property
    def is_at_work(self) -> bool:
        """Whether another tool than the one for picking is in the hand."""
        return self.kind is not None and self.kind is not self.resting

    @property
    def is_writing(self) -> bool:
        """Whether an edit is on its way into the file or to the screen."""
        return bool(self._wanted)

    def _carry_out_next(self) -> None:
        if not self._wanted:
            return
        wanted, farm = self._wanted[0], self.session.farm
        if farm is None:
            for lost in self._wanted[:]:
                self._refuse(lost, FarmmapError("The farm was closed before the change could be made."))
            self._wanted.clear()
            return
        proposed, trouble = self._made(wanted, farm)
        if proposed is None:
            self._wanted.pop(0)
            self._refuse(wanted, trouble)
            self._carry_out_next()
            return

        def done() -> None:
            self._wanted.remove(wanted)
            wanted.is_written = True
            self._shown.append(wanted)
            try:
                self._say_done(proposed)
                if wanted.then is not None:
                    wanted.then(proposed)
                self.guide()
            finally:
                self._carry_out_next()

        def failed(error: BaseException) -> None:
            self._wanted.remove(wanted)
            self._refuse(wanted, error)
            self._carry_out_next()

        self.files.carry_out(proposed.edit, done, failed, self)

    def _made(self, wanted: _Wanted, farm: Farm) -> tuple[Proposed | None, Exception]:
        """Return the edit that was asked for, or None and why it cannot be made."""
        if self.session.path != wanted.path:
            return None, FarmmapError("Another farm was opened before the change could be made; it was not made.")
        try:
            return wanted.make(farm), FarmmapError("")
        except Exception as error:  # noqa: BLE001 - a tool that fails must not keep those behind it waiting
            return None, error

    def _say_done(self, proposed: Proposed) -> None:
        from farmmap.window.tools.cautions import touches_power_line

        farm, path = self.session.farm, self.session.path
        words = " ".join(sentence(part) for part in (f"Done: {within(proposed.edit.name)}", *proposed.notes))
        danger = farm is not None and path not in self._told_of_line and touches_power_line(farm, proposed.edit)
        if danger:
            self._told_of_line.add(path)
            words = f"{POWER_LINE} {words}"
        self.strip.note(words, warning=danger)

    def _refuse(self, wanted: _Wanted, error: BaseException) -> None:
        if wanted.refused is not None:
            wanted.refused(error)
        else:
            self.strip.note(words_of_error(error), warning=True)
        if isinstance(error, NotWritten) or not isinstance(error, FarmmapError):
            self.jobs.failed.emit(error)  # the window says what can be done about it
        self.guide()

    # What happens

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Forget the last note when the next action begins on the map."""
        if event.type() in (QEvent.Type.MouseButtonPress, QEvent.Type.KeyPress):
            self.strip.clear_note()
            self.guide()
        return super().eventFilter(watched, event)

    def _lay_down_only(self) -> None:
        if self.tool is not None:
            self.exact_line.shut()
            self.tool.end()
            self.map_view.tool = None
            self.strip.read("")
            self.strip.put_in(None)
            self._put_beside(None)
        self.kind = None

    def _put_beside(self, box: QWidget | None) -> None:
        if self.beside is not None:
            self.beside.put_in(box)

    def _tool_failed(self, tool: MapTool, error: Exception) -> None:
        """Say what is wrong; what raises anything but words for a person is laid down."""
        if isinstance(error, FarmmapError):
            self.strip.note(words_of_error(error), warning=True)
            return
        if self.tool is tool:
            failing = self.kind
            self.kind = self.map_view.tool = None
            self.exact_line.shut()
            self.strip.read("")
            self.strip.put_in(None)
            self._put_beside(None)
            if failing is not self.resting:
                QTimer.singleShot(0, self, self.lay_down)
        tell(self.map_view.window(), error)

    def _farm_changed(self) -> None:
        self._snapper = None
        if self.session.farm is None:
            self._shown.clear()
            self._lay_down_only()
        elif self.tool is None and self.resting is not None:
            self.take_up(self.resting)
        elif self.tool is not None:
            self.tool.farm_changed()
            self.guide()
        self.changed.emit()

    def _may_edit_changed(self) -> None:
        if self.kind is not None and self.kind.changes and self.why_not():
            self.lay_down()
        self.guide()
        self.changed.emit()

    def _picks_changed(self) -> None:
        self.guide()

    def _take_away_what_is_shown(self) -> None:
        now = self.contents.now
        if self._shown and now is not None and now.farm is self.session.farm and self.map_view.is_up_to_date:
            self._shown.clear()
            self.map_view.update()

    def _snapper_now(self, leave_out: tuple[str, int] | None, *, trees: bool) -> Snapper | None:
        from farmmap.editing.snapping import Snapper

        farm, hidden = self.session.farm, self.session.hidden
        if farm is None:
            return None
        kept = self._snapper
        if kept is None or kept[0] is not farm or kept[1] != (hidden, leave_out, trees):
            tables = [name for name in (*SHAPED, *(["trees"] if trees else [])) if name not in hidden]
            self._snapper = kept = farm, (hidden, leave_out, trees), Snapper(farm, tables, leave_out=leave_out)
        return kept[2]

    def _paint(self, painter: QPainter) -> None:
        """Paint what is picked, and what is on its way to the screen."""
        if self.contents.now is None or self.map_view.view is None:
            return
        waiting = [(outline, False) for wanted in (*self._shown, *self._wanted) for outline in wanted.outlines]
        picked = [(outline, True) for outline in self._picked_outlines()]
        if not waiting and not picked:
            return
        from farmmap.window.tools.sketch import paint_outline

        inks = self.inks()
        painter.save()
        many = len(picked) > MOST_FINE
        for outlines, plain in ((picked, many), (waiting, False)):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, not plain)
            for outline, sure in outlines:
                paint_outline(painter, self.dots(outline.points), outline, inks, sure=sure, plain=plain)
        painter.restore()

    def _picked_outlines(self) -> list[Outline]:
        """Return the outlines of what is picked, unless the map picks it out itself."""
        rows, farm = self.picks.rows, self.session.farm
        alone = len(rows) == 1 and rows[0][0] in ("blocks", "trees")
        if farm is None or not rows or alone:
            return []
        kept = self._outlines
        if kept is None or kept[0] is not farm or kept[1] != rows:
            from farmmap.window.tools.rows_on_map import outlines_of_rows

            self._outlines = kept = farm, rows, outlines_of_rows(farm, rows)
        return kept[2]

    def room(self) -> QRectF:
        """Return the map's rectangle [px]."""
        return QRectF(self.map_view.rect())
