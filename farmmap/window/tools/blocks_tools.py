"""Splitting a block, cutting a hole into one, filling the gap between blocks, and joining them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QMouseEvent

from farmmap.editing.words import listed
from farmmap.errors import BadInput
from farmmap.window.map_tool import MapTool
from farmmap.window.tools.bench import Bench, Spot
from farmmap.window.tools.corners_tool import CornersTool
from farmmap.window.tools.note_strip import Answer
from farmmap.window.tools.placing import PlacingTool
from farmmap.window.tools.rows_on_map import rows_at, words_of
from farmmap.window.tools.sketch import Outline

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm


class SplitTool(CornersTool):
    """Splits the block that is picked, or the one that is crossed, along a line."""

    snaps_to_trees = False

    def words(self) -> str:
        """Return what may be done next."""
        if not self.corners:
            return "Draw a line right across a block, from outside to outside: click where it starts."
        return "Click on; double click or Enter splits the block; Backspace takes the last corner back."

    def finish(self, corners: np.ndarray) -> None:
        """Split."""
        picked = self.bench.picks.of("blocks")

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.blocks import split

            line = shapely.LineString(corners)
            return split(farm, _crossed(farm, line, picked), line)

        self.bench.propose(
            make, [Outline(corners)], lambda proposed: _pick_blocks(self, proposed), self.give_back(corners)
        )


def _crossed(farm: Farm, line: shapely.LineString, picked: list[int]) -> int:
    """Return the block that is meant by a line: a picked one that it crosses, else the only one it crosses."""
    blocks = farm.blocks[shapely.is_valid(farm.blocks.geometry.to_numpy())]
    blocks = blocks[shapely.length(shapely.intersection(blocks.geometry.to_numpy(), line)) > 0]
    crossed = blocks.index.tolist()
    standing = blocks.index[blocks["stage"] == "existing"].tolist()
    meant = [id_ for id_ in crossed if id_ in picked] or standing or crossed
    if not meant:
        raise BadInput("The line crosses no block; draw it right across the block, from outside to outside.")
    if len(meant) > 1:
        names = listed(blocks["name"].loc[meant].tolist())
        raise BadInput(f"The line crosses {names}; pick the block that is to be split, or draw a shorter line.")
    return meant[0]


class HoleTool(CornersTool):
    """Cuts a hole into the block around it."""

    snaps_to_trees = False

    @property
    def as_area(self) -> bool:
        """A hole is an area."""
        return True

    def words(self) -> str:
        """Return what may be done next."""
        if not self.corners:
            return "Draw the edge of the hole inside a block: click its first corner."
        return "Click on; double click or Enter cuts the hole; Backspace takes the last corner back."

    def finish(self, corners: np.ndarray) -> None:
        """Cut."""
        picked = self.bench.picks.of("blocks")

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.blocks import hole_cut
            from farmmap.editing.draw import shape_from_corners

            hole = shape_from_corners("blocks", corners, as_area=True)
            return hole_cut(farm, _around(farm, hole, picked), hole)

        self.bench.propose(
            make,
            [Outline(corners, closed=True)],
            lambda proposed: _pick_blocks(self, proposed),
            self.give_back(corners),
        )


def _around(farm: Farm, hole: shapely.Geometry, picked: list[int]) -> int:
    blocks = farm.blocks[shapely.is_valid(farm.blocks.geometry.to_numpy())]
    ids = blocks.index.to_numpy()
    areas = shapely.area(shapely.intersection(blocks.geometry.to_numpy(), hole))
    if not len(areas) or areas.max() <= 0:
        raise BadInput("The hole lies in no block; draw it inside the block that it is to be cut from.")
    under = [int(id_) for id_ in ids[areas > 0]]
    meant = [id_ for id_ in under if id_ in picked]
    return meant[0] if meant else int(ids[int(np.argmax(areas))])


class FillTool(PlacingTool):
    """Fills the gap between blocks that is clicked on."""

    snaps = False

    def words(self) -> str:
        """Return what may be done next."""
        picked = self.bench.picks.of("blocks")
        if len(picked) == 1 and self.bench.farm is not None:
            into = words_of(self.bench.farm, [("blocks", picked[0])])
            return f"Click in a gap between blocks: it goes to {into}, which is picked. Escape lets go of it."
        return "Click in a gap between blocks: it goes to the neighbour with the longest edge along it."

    def put(self, spot: Spot) -> None:
        """Fill."""
        picked = self.bench.picks.of("blocks")
        into = picked[0] if len(picked) == 1 else None

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.blocks import gap_filled

            return gap_filled(farm, spot.x, spot.y, into)

        self.bench.propose(make)

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Let go of the picked block, then of the tool, with Escape."""
        if event.key() == Qt.Key.Key_Escape:
            if self.bench.picks.rows:
                self.bench.picks.pick([])
            else:
                self.bench.lay_down()
            return True
        return super().key_pressed(event)


class JoinTool(MapTool):
    """Joins the blocks that are clicked on."""

    cursor = Qt.CursorShape.PointingHandCursor

    def begin(self) -> None:
        """Keep the blocks that are picked, and nothing else."""
        self.bench.picks.pick([row for row in self.bench.picks.rows if row[0] == "blocks"])

    def words(self) -> str:
        """Return what may be done next."""
        count = len(self.bench.picks.of("blocks"))
        if count < 2:
            return "Click the blocks that are to become one; click again to let go of one."
        return (
            f"{count} blocks are picked. Enter joins them into one, which keeps the name of the largest; "
            "click more, or again to let go."
        )

    def answers(self) -> tuple[Answer, ...]:
        """Return the button that joins."""
        count = len(self.bench.picks.of("blocks"))
        return ((f"Join {count} blocks", self.join),) if count > 1 else ()

    def clicked(self, event: QMouseEvent) -> bool:
        """Pick a block, or let go of it."""
        now, ground = self.bench.contents.now, self.bench.map_view.ground_at(event.position())
        if now is not None and ground is not None and now.farm is self.bench.farm:
            blocks = [row for row in rows_at(now, *ground, 0.0) if row[0] == "blocks"]
            if blocks:
                self.bench.picks.turn(blocks[0])
        return True

    def key_pressed(self, event: QKeyEvent) -> bool:
        """Join with Enter; let go with Escape."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and len(self.bench.picks.of("blocks")) > 1:
            self.join()
            return True
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self._turn_middle()
            return True
        if event.key() == Qt.Key.Key_Escape:
            if self.bench.picks.rows:
                self.bench.picks.pick([])
            else:
                self.bench.lay_down()
            return True
        return False

    def join(self) -> None:
        """Join what is picked."""
        blocks = self.bench.picks.of("blocks")

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.blocks import merged

            return merged(farm, blocks)

        self.bench.propose(make, (), lambda proposed: _pick_blocks(self, proposed))

    def _turn_middle(self) -> None:
        now, view = self.bench.contents.now, self.bench.map_view
        ground = view.ground_at(self.bench.room().center())
        if now is not None and ground is not None:
            blocks = [row for row in rows_at(now, *ground, 0.0) if row[0] == "blocks"]
            if blocks:
                self.bench.picks.turn(blocks[0])


def _pick_blocks(tool: MapTool, proposed: Proposed) -> None:
    """Pick the blocks that an edit left changed."""
    change = proposed.edit.changes.get("blocks")
    if change is not None:
        tool.bench.picks.pick([("blocks", int(id_)) for id_ in change.after.index])


def block_tool(bench: Bench, choice: str) -> MapTool:
    """Return the tool that does what was chosen with blocks."""
    kinds: dict[str, type[MapTool]] = {"split": SplitTool, "join": JoinTool, "hole": HoleTool, "fill": FillTool}
    return kinds[choice](bench, choice)
