"""Undo and redo move only when a change was carried out."""

from __future__ import annotations

from farmmap.editing.history import History
from farmmap.editing.reshape import rows_removed
from farmmap.editing.trees import tree_placed
from tests.editing.made_farms import same_tables
from tests.place import EAST, NORTH


def test_nothing_to_undo_at_first():
    history = History()
    assert history.undo() is None
    assert history.redo() is None
    assert history.undo_name == history.redo_name == ""
    history.done_undo()
    history.done_redo()
    assert len(history) == 0


def test_undo_and_redo_over_several_edits(farm):
    history, first = History(), farm
    for propose in (lambda f: tree_placed(f, EAST, NORTH), lambda f: rows_removed(f, "trees", [1, 2])):
        edit = propose(farm).edit
        farm = edit.apply(farm)
        history.record(edit)
    last = farm
    assert history.undo_name == "Take away 2 trees"
    assert history.names == ("Take away 2 trees", "Put in tree 7")
    for _ in range(2):
        farm = history.undo().apply(farm)
        history.done_undo()
    assert same_tables(farm, first)
    assert (history.undo_name, history.redo_name) == ("", "Put in tree 7")
    for _ in range(2):
        farm = history.redo().apply(farm)
        history.done_redo()
    assert same_tables(farm, last)


def test_a_write_that_fails_leaves_it_as_it_was(farm):
    history = History()
    history.record(tree_placed(farm, EAST, NORTH).edit)
    assert history.undo() is not None  # and the write fails, so done_undo is never called
    assert history.undo_name == "Put in tree 7"
    assert history.redo_name == ""


def test_a_new_edit_clears_what_could_be_redone(farm):
    history = History()
    history.record(tree_placed(farm, EAST, NORTH).edit)
    history.done_undo()
    history.record(rows_removed(farm, "trees", [1]).edit)
    assert history.redo() is None
    history.clear()
    assert history.undo() is None
