"""Taking measurements down quickly: the box in which they are typed, and the tree on the map that they are of."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QMouseEvent, QPainter

from farmmap.window.map_tool import MapTool
from farmmap.window.map_view import NEAR_MM
from farmmap.window.tape_box import TapeBox
from farmmap.window.tools.bench import Bench
from farmmap.window.tools.rows_on_map import rows_at
from farmmap.window.tools.sketch import paint_cross_hair, paint_words


class TapeTool(MapTool):
    """Opens the box; a click on a tree takes its tag."""

    cursor = Qt.CursorShape.PointingHandCursor

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.box = TapeBox(bench)

    def begin(self) -> None:
        """Open the box, with the tree that is picked if it is the only one."""
        picked = self.bench.picks.of("trees")
        self.box.open(picked[0] if len(picked) == 1 else None)

    def end(self) -> None:
        """Close the box."""
        self.box.close_for_good()

    def take_focus(self) -> None:
        """Let the keyboard write into the box."""
        self.box.take_focus()

    def words(self) -> str:
        """Return what may be done next."""
        if self.box.tree is None:
            return "Type a tag and press Enter, then the diameter and Enter; or click a tree. Escape ends."
        return "Type the diameter and press Enter; or click another tree. Escape ends."

    def clicked(self, event: QMouseEvent) -> bool:
        """Measure the tree that is clicked."""
        now, ground = self.bench.contents.now, self.bench.map_view.ground_at(event.position())
        if now is not None and ground is not None and now.farm is self.bench.farm:
            found = rows_at(now, *ground, self.bench.metres(NEAR_MM))
            trees = [id_ for table, id_ in found if table == "trees"]
            if trees:
                self.box.take_tree(trees[0])
            self.box.take_focus()
        return True

    def paint(self, painter: QPainter) -> None:
        """Show the tree that is being measured."""
        tree, farm = self.box.tree, self.bench.farm
        if tree is None or farm is None or self.bench.contents.now is None or tree not in farm.trees.index:
            return
        place = self.bench.map_view.place_of(float(farm.trees["x"].loc[tree]), float(farm.trees["y"].loc[tree]))
        inks = self.bench.inks()
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint_cross_hair(painter, place, inks)
        paint_words(painter, place, self.box.tree_lines(), inks, QRectF(0, 0, self.box.x(), self.bench.room().height()))
        painter.restore()

    def farm_changed(self) -> None:
        """Forget a tree that is gone."""
        self.box.farm_changed()
