"""Drawing blocks, creeks, fences, tracks, hazards, the farm's boundary, notes and photo points."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import shapely

from farmmap.window.tools.corners_tool import CornersTool
from farmmap.window.tools.note_strip import Answer
from farmmap.window.tools.sketch import Outline

if TYPE_CHECKING:
    from farmmap.editing.proposed import Proposed
    from farmmap.farm.farm import Farm
    from farmmap.window.tools.bench import Bench


@dataclass(frozen=True)
class Drawable:
    """One kind of thing that can be drawn.

    Attributes
    ----------
    one : str
        What it is, for people, with its article.
    table : str
        Where it goes.
    drawn_as : str
        ``area``, ``line``, ``point`` or ``view``, a point that looks somewhere.
    values : mapping
        What its row holds from the start.
    """

    one: str
    table: str
    drawn_as: str
    values: Mapping[str, object] = field(default_factory=dict[str, object])


DRAWABLE = {
    "block": Drawable("a block", "blocks", "area"),
    "planned block": Drawable("a planned block", "blocks", "area", {"stage": "planned"}),
    "creek": Drawable("a creek, the way it flows", "creeks", "line"),
    "fence": Drawable("a fence", "fences", "line"),
    "track": Drawable("a track", "tracks", "line"),
    "power line": Drawable("a power line", "hazards", "line", {"kind": "power line"}),
    "hazard area": Drawable("a hazard", "hazards", "area"),
    "hazard line": Drawable("a hazard", "hazards", "line"),
    "hazard point": Drawable("a hazard", "hazards", "point"),
    "boundary": Drawable("the farm's boundary", "boundary", "area"),
    "note": Drawable("a note", "notes", "point"),
    "photo point": Drawable("a photo point", "photo_points", "view"),
}
"""What can be drawn, by the name of the choice."""


class DrawTool(CornersTool):
    """Draws what was chosen, and picks it when it stands on the farm."""

    def __init__(self, bench: Bench, choice: str = "") -> None:
        super().__init__(bench, choice)
        self.snaps_to_trees = self.drawable.table not in ("blocks", "boundary")

    @property
    def drawable(self) -> Drawable:
        """What is drawn."""
        return DRAWABLE[self.choice]

    @property
    def as_area(self) -> bool:
        """Whether it is an area."""
        return self.drawable.drawn_as == "area"

    @property
    def least(self) -> int:
        """How many corners it needs."""
        return {"point": 1, "view": 1, "line": 2, "area": 3}[self.drawable.drawn_as]

    @property
    def most(self) -> int | None:
        """One for a point, two for one that looks somewhere."""
        return {"point": 1, "view": 2}.get(self.drawable.drawn_as)

    def words(self) -> str:
        """Return what may be done next."""
        if self.drawable.drawn_as == "view":
            return self._words_of_view()
        if self.most == 1:
            return f"Click where {self.drawable.one} is, or move the cross-hair by arrow keys and press Enter."
        if not self.corners:
            return (
                f"Click the first corner of {self.drawable.one}. Or arrow keys and Enter; or type its place. "
                "Hold Ctrl to place it freely."
            )
        ends = "Double click or Enter ends" if len(self.corners) >= self.least else "Click the next corner"
        return f"{ends}; Backspace or Ctrl+Z takes the last corner back; Escape gives up. Or type: 25 m at 90."

    def _words_of_view(self) -> str:
        if self.corners:
            return (
                "Click where the camera looks, or type its bearing: 10 m at 45. Enter leaves the bearing open; "
                "Backspace takes the place back."
            )
        return "Click where the camera stands. Drag a photo point to move it, with Shift to turn it towards the view."

    def answers(self) -> tuple[Answer, ...]:
        """Return what can be done with what was drawn last."""
        rows = self.bench.picks.rows
        if self.corners or len(rows) != 1 or rows[0][0] != self.drawable.table:
            return ()
        return (("Name and fields…", self.bench.change_fields),)

    def finish(self, corners: np.ndarray) -> None:
        """Put the row into the farm, and pick it."""
        kind = self.drawable

        def make(farm: Farm) -> Proposed:
            from farmmap.editing.draw import drawn, shape_from_corners

            if kind.drawn_as == "view":
                from farmmap.editing.photos import photo_point_placed

                (x, y), *towards = corners.tolist()
                return photo_point_placed(farm, x, y, tuple(towards[0]) if towards else None, kind.values)
            shape = (
                shapely.Point(corners[0])
                if kind.drawn_as == "point"
                else shape_from_corners(kind.table, corners, as_area=self.as_area)
            )
            return drawn(farm, kind.table, shape, kind.values)

        def pick(proposed: Proposed) -> None:
            added = proposed.edit.changes[kind.table].added
            if len(added):
                self.bench.picks.pick([(kind.table, int(added[0]))])
            if kind.table == "hazards" and len(added):
                self._ask_for_clearance(proposed)

        point = kind.drawn_as in ("point", "view")
        shown = corners[:1] if point else corners
        self.bench.propose(make, [Outline(shown, closed=self.as_area, apart=point)], pick, self.give_back(corners))

    def _ask_for_clearance(self, proposed: Proposed) -> None:
        """Open the fields of a new hazard: without a clearance it counts for nothing."""
        if not proposed.edit.changes["hazards"].after["clear_m"].iloc[-1] > 0:
            words = "Give its clearance: with 0 m it takes no ground and no trees out."
            self.bench.strip.note(f"{self.bench.strip.note_words} {words}".strip(), warning=True)
        self.bench.change_fields()
