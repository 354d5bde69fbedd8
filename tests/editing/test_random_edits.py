"""Random sequences of edits: undone and redone exactly, no unsound or overlapping block, figures as from scratch."""

from __future__ import annotations

import datetime as dt

import numpy as np
import shapely
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from farmmap.editing.blocks import gap_filled, hole_cut, merged, split
from farmmap.editing.corners import corners_of, edge_near
from farmmap.editing.draw import drawn
from farmmap.editing.history import History
from farmmap.editing.proposed import Proposed
from farmmap.editing.reshape import corner_added, corner_moved, corner_removed, rows_removed, shape_moved
from farmmap.editing.shared_edges import OVERLAP_M2
from farmmap.editing.tape_entry import measured, next_tag, trees_with_tag
from farmmap.editing.trees import fields_changed, pruned_to, tree_placed, trees_moved, trees_removed
from farmmap.errors import BadInput
from farmmap.figures.after_edit import carry_over
from farmmap.figures.blocks import block_figures
from tests.editing.made_farms import forgotten, overlaps_m2, random_farm, same_tables, same_values, unshared_corners
from tests.place import EAST, NORTH

ON = dt.date(2021, 1, 1)

steps = st.integers(-30, 30).map(float)
wide, high = st.integers(-20, 140).map(float), st.integers(-20, 100).map(float)
places = st.tuples(wide, high).map(lambda p: (EAST + p[0], NORTH + p[1]))
picks = st.integers(0, 10_000)


class Editing(RuleBasedStateMachine):
    """One session of work on a random farm."""

    @initialize(seed=st.integers(0, 1000))
    def open(self, seed: int) -> None:
        self.first = self.farm = random_farm(seed)
        self.history = History()
        block_figures(self.farm, ON)

    # --- carrying out ---

    def _do(self, propose) -> None:
        """Carry out what is proposed, or see it refused in words."""
        try:
            proposed: Proposed = propose()
        except BadInput:
            return
        assert proposed.edit.name[0].isupper()
        self.history.record(proposed.edit)
        self._apply(proposed.edit)

    def _apply(self, edit) -> None:
        before, self.farm = self.farm, edit.apply(self.farm)
        carry_over(before, self.farm, edit, ON)
        quick, afresh = block_figures(self.farm, ON), block_figures(forgotten(self.farm), ON)
        assert quick.ids == afresh.ids
        assert same_values(quick.rows, afresh.rows)
        assert quick.notes == afresh.notes

    def _one(self, table: str, pick: int) -> int | None:
        rows = self.farm.tables[table].index
        return int(rows[pick % len(rows)]) if len(rows) else None

    # --- blocks ---

    @rule(middle=places, spread=st.lists(st.tuples(steps, steps), min_size=3, max_size=6), planned=st.booleans())
    def draw_block(self, middle, spread, planned) -> None:
        corners = np.array(spread) + np.array(middle)
        turned = np.argsort(np.arctan2(*(corners - corners.mean(axis=0)).T))
        stage = {"stage": "planned"} if planned else {}
        self._do(lambda: drawn(self.farm, "blocks", shapely.Polygon(corners[turned]), stage))

    @rule(start=places, end=places, table=st.sampled_from(["creeks", "tracks", "fences", "hazards"]))
    def draw_line(self, start, end, table) -> None:
        self._do(lambda: drawn(self.farm, table, shapely.LineString([start, end])))

    @rule(
        pick=picks,
        corner=picks,
        dx=steps,
        dy=steps,
        neighbours=st.booleans(),
        table=st.sampled_from(["blocks", "blocks", "creeks"]),
    )
    def move_corner(self, pick, corner, dx, dy, neighbours, table) -> None:
        row = self._one(table, pick)
        if row is None:
            return
        corners = corners_of(self.farm, table, row)
        chosen = corners[corner % len(corners)]
        self._do(lambda: corner_moved(self.farm, chosen, chosen.x + dx / 3, chosen.y + dy / 3, neighbours=neighbours))

    @rule(pick=picks, corner=picks, onto=picks)
    def move_corner_onto_another(self, pick, corner, onto) -> None:
        row, other = self._one("blocks", pick), self._one("blocks", onto)
        if row is None:
            return
        corners, others = corners_of(self.farm, "blocks", row), corners_of(self.farm, "blocks", other)
        chosen, target = corners[corner % len(corners)], others[(corner + onto) % len(others)]
        self._do(lambda: corner_moved(self.farm, chosen, target.x, target.y))

    @rule(place=places, dx=steps, dy=steps)
    def put_in_corner(self, place, dx, dy) -> None:
        edge = edge_near(self.farm, *place, 30.0, ["blocks", "tracks"])
        if edge is not None:
            self._do(lambda: corner_added(self.farm, edge, edge.x + dx / 4, edge.y + dy / 4))

    @rule(pick=picks, corner=picks)
    def take_out_corner(self, pick, corner) -> None:
        row = self._one("blocks", pick)
        if row is not None:
            corners = corners_of(self.farm, "blocks", row)
            self._do(lambda: corner_removed(self.farm, corners[corner % len(corners)]))

    @rule(pick=picks, dx=steps, dy=steps, table=st.sampled_from(["blocks", "creeks"]))
    def move_shape(self, pick, dx, dy, table) -> None:
        row = self._one(table, pick)
        if row is not None:
            self._do(lambda: shape_moved(self.farm, table, row, dx, dy))

    @rule(pick=picks, start=places, end=places)
    def split_block(self, pick, start, end) -> None:
        row = self._one("blocks", pick)
        if row is not None:
            self._do(lambda: split(self.farm, row, shapely.LineString([start, end])))

    @rule(one=picks, other=picks)
    def merge_blocks(self, one, other) -> None:
        row, neighbour = self._one("blocks", one), self._one("blocks", other)
        if row is not None:
            self._do(lambda: merged(self.farm, [row, neighbour]))

    @rule(pick=picks, size=st.integers(1, 20), dx=steps, dy=steps)
    def cut_hole(self, pick, size, dx, dy) -> None:
        row = self._one("blocks", pick)
        if row is not None:
            middle = self.farm.blocks.geometry.loc[row].centroid
            x, y = middle.x + dx / 3, middle.y + dy / 3
            hole = shapely.box(x - size / 2, y - size / 2, x + size / 2, y + size / 2)
            self._do(lambda: hole_cut(self.farm, row, hole))

    @rule(place=places)
    def fill_gap(self, place) -> None:
        self._do(lambda: gap_filled(self.farm, *place))

    @rule(pick=picks)
    def remove_block(self, pick) -> None:
        row = self._one("blocks", pick)
        if row is not None and len(self.farm.blocks) > 3:
            self._do(lambda: rows_removed(self.farm, "blocks", [row]))

    @rule(pick=picks, stage=st.sampled_from(["existing", "planned"]))
    def change_stage(self, pick, stage) -> None:
        row = self._one("blocks", pick)
        if row is not None:
            self._do(lambda: fields_changed(self.farm, "blocks", [row], {"stage": stage}))

    # --- trees ---

    @rule(place=places, species=st.sampled_from([None, "TOTA", "kauri", "coast redwood"]))
    def put_in_tree(self, place, species) -> None:
        values = {} if species is None else {"species": species}
        self._do(lambda: tree_placed(self.farm, *place, values))

    @rule(pick=picks, dx=steps, dy=steps, many=st.integers(1, 4))
    def move_trees(self, pick, dx, dy, many) -> None:
        row = self._one("trees", pick)
        if row is not None:
            ids = self.farm.trees.index[self.farm.trees.index >= row][:many]
            self._do(lambda: trees_moved(self.farm, ids, dx, dy))

    @rule(pick=picks)
    def remove_tree(self, pick) -> None:
        row = self._one("trees", pick)
        if row is not None:
            self._do(lambda: trees_removed(self.farm, [row]))

    @rule(pick=picks, dbh=st.integers(1, 60), day=st.sampled_from(["2016-05-01", "2020-05-01", "2019-02-03"]))
    def measure(self, pick, dbh, day) -> None:
        row = self._one("trees", pick)
        if row is not None:
            self._do(lambda: measured(self.farm, row, day, dbh_cm=str(dbh)))
            tag = next_tag(self.farm, str(self.farm.trees["tag"].loc[row]))
            assert not tag or len(trees_with_tag(self.farm, tag))

    @rule(pick=picks, status=st.sampled_from(["alive", "dead", "felled"]))
    def change_status(self, pick, status) -> None:
        row = self._one("trees", pick)
        if row is not None:
            day = "" if status == "alive" else "2020-06-01"
            self._do(lambda: fields_changed(self.farm, "trees", [row], {"status": status, "status_on": day}))

    @rule(pick=picks, height=st.integers(1, 8))
    def prune(self, pick, height) -> None:
        row = self._one("trees", pick)
        if row is not None:
            self._do(lambda: pruned_to(self.farm, [row], height, "2016-05-01"))

    # --- undo and redo ---

    @precondition(lambda self: self.history.undo_name)
    @rule(times=st.integers(1, 3))
    def undo(self, times) -> None:
        for _ in range(times):
            edit = self.history.undo()
            if edit is not None:
                self._apply(edit)
                self.history.done_undo()

    @precondition(lambda self: self.history.redo_name)
    @rule()
    def redo(self) -> None:
        self._apply(self.history.redo())
        self.history.done_redo()

    # --- what must always hold ---

    @invariant()
    def no_unsound_block(self) -> None:
        shapes = self.farm.blocks.geometry.to_numpy()
        assert shapely.is_valid(shapes).all()
        assert (shapely.area(shapes) > 0).all()

    @invariant()
    def no_overlap(self) -> None:
        assert overlaps_m2(self.farm) <= OVERLAP_M2

    @invariant()
    def shared_edges_have_the_same_corners(self) -> None:
        assert not unshared_corners(self.farm)

    def teardown(self) -> None:
        if not hasattr(self, "farm"):
            return
        farm, done = self.farm, len(self.history)
        for _ in range(done):
            farm = self.history.undo().apply(farm)
            self.history.done_undo()
        assert same_tables(farm, self.first)
        for _ in range(done):
            farm = self.history.redo().apply(farm)
            self.history.done_redo()
        assert same_tables(farm, self.farm)


TestEditing = Editing.TestCase
TestEditing.settings = settings(max_examples=12, stateful_step_count=20)
