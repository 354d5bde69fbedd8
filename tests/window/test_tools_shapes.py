"""Reshaping, splitting, joining, holes, gaps and trees by mouse and keys, checked in the file."""

import numpy as np
import pytest
import shapely
from PySide6.QtCore import Qt

from farmmap.files.farm_file import write_farm
from farmmap.window.tools.reshape import ReshapeTool
from tests.conftest import small_farm
from tests.place import EAST, NORTH
from tests.window.tool_hand import Hand

SHIFT, CTRL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def hand(qtbot, opened, settle):
    return Hand(qtbot, opened, settle)


def area(shape):
    return float(shapely.area(shape))


def has_corner(shape, east, north, within=1e-3):
    xy = shapely.get_coordinates(shape) - [EAST, NORTH]
    return bool((np.hypot(*(xy - [east, north]).T) <= within).any())


# Reshape


def test_a_shared_corner_is_dragged_and_the_neighbour_follows(hand, opened):
    hand.take("Reshape")
    hand.click(30, 60)
    assert opened.bench.picks.rows == (("blocks", 1),)
    shared = [corner for corner, is_shared in zip(hand.tool.corners, hand.tool.shared, strict=True) if is_shared]
    assert {(corner.x - EAST, corner.y - NORTH) for corner in shared} == {(100, 0), (100, 100)}
    hand.press((100, 100), CTRL)
    hand.pull((100, 100), (110, 112), CTRL)
    target = hand.tool._target
    assert target == pytest.approx((EAST + 110, NORTH + 112), abs=1)
    assert len(hand.tool._moved_outlines(target)) == 2
    hand.qtbot.mouseRelease(hand.map, Qt.MouseButton.LeftButton, CTRL, hand.at(110, 112))
    hand.wait_for_edit()
    blocks = hand.file().blocks.geometry
    moved = np.array(target) - [EAST, NORTH]
    assert has_corner(blocks.loc[1], *moved)
    assert has_corner(blocks.loc[2], *moved)
    assert not has_corner(blocks.loc[1], 100, 100)
    assert area(blocks.loc[1].intersection(blocks.loc[2])) == pytest.approx(0, abs=1e-6)
    assert hand.words.startswith("Done: move corner of North Terrace.")
    assert hand.tool.chosen is not None


def test_a_corner_is_moved_by_arrow_keys_as_one_edit(hand, opened):
    hand.take("Reshape")
    hand.click(30, 60)
    hand.key(Qt.Key.Key_Tab)
    corner = hand.tool.corners[hand.tool.chosen]
    hand.key(Qt.Key.Key_Right, times=3)
    hand.key(Qt.Key.Key_Up, SHIFT, times=2)
    assert "moved 3.0 m" in opened.note_strip.reading.text()
    farm = hand.wait_for_edit()
    scale = farm.grid.scale(corner.x, corner.y)
    assert has_corner(
        hand.file().blocks.geometry.loc[1], corner.x - EAST + 3 * scale, corner.y - NORTH + 0.2 * scale, 1e-4
    )
    assert opened.files.undo_name == "Move corner of North Terrace"
    farm = hand.undo()
    assert area(farm.blocks.geometry.loc[1]) == pytest.approx(10_000)
    assert opened.files.undo_name == ""


def test_a_shared_corner_is_dragged_with_nothing_picked_before(hand, opened):
    hand.take("Reshape")
    before = opened.map_view.view
    hand.drag((100, 100), (110, 112), CTRL)
    hand.wait_for_edit()
    assert opened.map_view.view.centre_x == before.centre_x, "what is held stays under the pointer"
    blocks = hand.file().blocks.geometry
    assert not has_corner(blocks.loc[1], 100, 100)
    assert not has_corner(blocks.loc[2], 100, 100)


def test_a_click_on_a_corner_or_just_outside_an_edge_picks(hand, opened):
    hand.take("Reshape")
    hand.type("2")
    assert "Click a corner first" in hand.words
    hand.click(0, 100)
    assert opened.bench.picks.rows == (("blocks", 1),)
    assert hand.tool.chosen is not None
    hand.key(Qt.Key.Key_Escape)
    hand.key(Qt.Key.Key_Escape)
    assert opened.bench.picks.rows == ()
    hand.click(-0.7, 40)
    assert opened.bench.picks.rows == (("blocks", 1),)
    assert len(opened.session.farm.blocks) == 2


def test_the_strip_counts_the_neighbours_of_a_corner(qtbot, window, tmp_path, settle):
    farm = small_farm()
    blocks = farm.blocks.iloc[[0, 1, 1]].copy()
    blocks.index = farm.blocks.index.append(farm.blocks.index[[1]] + 1)
    blocks.loc[3, "name"] = "Top"
    blocks.loc[3, "geometry"] = shapely.box(EAST, NORTH + 100, EAST + 100, NORTH + 115)
    write_farm(farm.with_tables(blocks=blocks), tmp_path / "three.gpkg")
    window.open_farm(tmp_path / "three.gpkg")
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=30_000)
    settle(window)
    hand = Hand(qtbot, window, settle)
    hand.take("Reshape")
    hand.click(30, 60)
    hand.click(100, 100)
    assert "2 neighbours share it and move along" in hand.words
    hand.click(100, 0)
    assert "A neighbour shares it and moves along" in hand.words


def test_tab_goes_round_the_corners_and_leaves_the_map_when_nothing_is_picked(hand, opened):
    hand.take("Reshape")
    hand.click(30, 60)
    seen = []
    for _ in range(5):
        hand.key(Qt.Key.Key_Tab)
        seen.append(hand.tool.chosen)
    assert seen == [0, 1, 2, 3, 0]
    hand.key(Qt.Key.Key_Backtab, SHIFT)
    assert hand.tool.chosen == 3
    hand.key(Qt.Key.Key_Escape)
    hand.key(Qt.Key.Key_Escape)
    assert opened.bench.picks.rows == ()
    hand.key(Qt.Key.Key_Tab)
    assert not opened.map_view.hasFocus()


def test_an_edge_gets_a_corner_by_a_click_and_by_a_key_and_loses_it(hand):
    hand.take("Reshape")
    hand.click(30, 60)
    hand.click(0, 40)
    farm = hand.wait_for_edit()
    assert len(shapely.get_coordinates(farm.blocks.geometry.loc[1])) == 6
    assert hand.tool.chosen is not None
    hand.key(Qt.Key.Key_Delete)
    farm = hand.wait_for_edit()
    assert len(shapely.get_coordinates(farm.blocks.geometry.loc[1])) == 5
    hand.key(Qt.Key.Key_Escape)
    hand.key(Qt.Key.Key_Tab)
    hand.key(Qt.Key.Key_A)
    farm = hand.wait_for_edit()
    assert len(shapely.get_coordinates(hand.file().blocks.geometry.loc[1])) == 6
    assert area(farm.blocks.geometry.loc[1]) == pytest.approx(10_000)


def test_an_edge_is_dragged_into_a_corner(hand):
    hand.take("Reshape")
    hand.click(30, 60)
    hand.drag((0, 50), (-15, 50), CTRL)
    farm = hand.wait_for_edit()
    assert area(farm.blocks.geometry.loc[1]) == pytest.approx(10_000 + 0.5 * 100 * 15, rel=0.02)
    assert hand.file().blocks.geometry.loc[1].equals(farm.blocks.geometry.loc[1])


def test_a_chosen_corner_goes_where_it_is_typed(hand, opened):
    hand.take("Reshape")
    hand.click(30, 60)
    hand.key(Qt.Key.Key_Tab)
    opened.map_view.setFocus()
    corner = hand.tool.corners[0]
    hand.type(f"{corner.x + 2.5:.1f} {corner.y - 3:.1f}")
    hand.enter()
    hand.wait_for_edit()
    assert has_corner(hand.file().blocks.geometry.loc[1], corner.x + 2.5 - EAST, corner.y - 3 - NORTH)


def test_a_move_that_crosses_the_outline_is_refused_and_left(hand, opened):
    before = opened.session.farm
    hand.take("Reshape")
    hand.click(30, 60)
    hand.drag((0, 0), (60, 130), CTRL)
    hand.qtbot.waitUntil(lambda: bool(opened.note_strip.note_words))
    hand.settle()
    assert opened.session.farm is before
    assert "left as it was" in hand.words
    assert hand.tool._target is None
    assert area(hand.file().blocks.geometry.loc[1]) == pytest.approx(10_000)


def test_escape_gives_a_move_by_keys_up(hand, opened):
    before = opened.session.farm
    hand.take("Reshape")
    hand.click(30, 60)
    hand.key(Qt.Key.Key_Tab)
    hand.key(Qt.Key.Key_Right, times=3)
    hand.key(Qt.Key.Key_Escape)
    hand.qtbot.wait(700)
    assert opened.session.farm is before
    assert isinstance(hand.tool, ReshapeTool)


def test_a_fence_is_reshaped(hand, opened):
    hand.take("Reshape")
    hand.click(40, -18)
    assert opened.bench.picks.rows == (("fences", 1),)
    hand.drag((100, -18), (120, -10), CTRL)
    hand.wait_for_edit()
    end = shapely.get_coordinates(hand.file().fences.geometry.loc[1])[-1] - [EAST, NORTH]
    assert end == pytest.approx([120, -10], abs=1)


def test_snapping_while_a_corner_is_dragged(hand):
    hand.take("Reshape")
    hand.click(40, -18)
    hand.press((100, -18))
    hand.pull((100, -18), (199, -1))
    assert hand.tool.spot.snap.kind == "corner"
    hand.qtbot.mouseRelease(hand.map, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, hand.at(199, -1))
    hand.wait_for_edit()
    assert has_corner(hand.file().fences.geometry.loc[1], 200, 0, 1e-6)


# Blocks


def test_a_block_is_split_by_a_line_across_and_undone(hand, opened):
    hand.take("Blocks", "split")
    hand.click(30, -10, CTRL)
    hand.double_click(30, 110, CTRL)
    hand.wait_for_edit()
    blocks = hand.file().blocks
    assert len(blocks) == 3
    assert area(blocks.geometry.loc[2]) == pytest.approx(10_000)
    pieces = [area(blocks.geometry.loc[id_]) for id_ in blocks.index if id_ != 2]
    assert sum(pieces) == pytest.approx(10_000)
    assert min(pieces) == pytest.approx(3_000, rel=0.05)
    hand.undo()
    assert len(hand.file().blocks) == 2


def test_a_line_that_crosses_no_block_is_refused_with_the_reason(hand, opened):
    hand.take("Blocks", "split")
    hand.click(30, -50, CTRL)
    hand.double_click(60, -50, CTRL)
    assert "crosses no block" in hand.words
    assert opened.note_strip.label.property("warning")


def test_the_picked_block_is_the_one_that_is_split(hand, opened):
    hand.click(150, 60)
    if opened.bench.picks.rows != (("blocks", 2),):
        hand.click(140, 60)
    hand.take("Blocks", "split")
    hand.click(-5, 50, CTRL)
    hand.double_click(205, 50, CTRL)
    hand.wait_for_edit()
    blocks = hand.file().blocks
    assert area(blocks.geometry.loc[1]) == pytest.approx(10_000)
    assert area(blocks.geometry.loc[2]) < 6_000


def test_blocks_are_joined(hand, opened):
    hand.take("Blocks", "join")
    hand.click(30, 60)
    hand.click(130, 60)
    (button,) = opened.note_strip.answers
    assert button.text() == "Join 2 blocks"
    hand.qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
    hand.wait_for_edit()
    blocks = hand.file().blocks
    assert list(blocks["name"]) == ["North Terrace"]
    assert area(blocks.geometry.iloc[0]) == pytest.approx(20_000)


def test_blocks_are_joined_by_enter(hand, opened):
    hand.take("Blocks", "join")
    hand.click(30, 60)
    hand.click(130, 60)
    hand.key(Qt.Key.Key_Return)
    assert len(hand.wait_for_edit().blocks) == 1


def test_a_hole_is_cut(hand):
    hand.take("Blocks", "hole")
    for corner in ((30, 40), (60, 40), (60, 70)):
        hand.click(*corner, CTRL)
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    block = hand.file().blocks.geometry.loc[1]
    assert len(block.interiors) == 1
    assert area(block) == pytest.approx(10_000 - 450, rel=0.01)


@pytest.fixture
def gapped(tmp_path):
    farm = small_farm()
    blocks = farm.blocks.copy()
    blocks.loc[1, "geometry"] = shapely.box(EAST, NORTH, EAST + 97, NORTH + 100)
    farm = farm.with_tables(blocks=blocks)
    path = tmp_path / "gap.gpkg"
    write_farm(farm, path)
    return path


def test_a_gap_between_neighbours_is_filled(qtbot, window, gapped, settle):
    window.open_farm(gapped)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=30_000)
    settle(window)
    hand = Hand(qtbot, window, settle)
    hand.take("Blocks", "fill")
    hand.click(98.5, 50)
    hand.wait_for_edit()
    blocks = hand.file().blocks.geometry
    assert area(blocks.union_all()) == pytest.approx(20_000, rel=1e-6)
    assert area(blocks.loc[1].intersection(blocks.loc[2])) == pytest.approx(0, abs=1e-6)


# Trees


def test_a_tree_is_placed_with_the_species_that_is_set(hand, opened):
    hand.take("Tree")
    assert hand.tool.species == "REDW"
    hand.tool.species = "TOTA"
    hand.click(60, 50, CTRL)
    farm = hand.wait_for_edit()
    assert opened.bench.picks.rows == (("trees", 7),)
    tree = hand.file().trees.loc[7]
    assert (tree["species"], tree["tag"]) == ("TOTA", "7")
    assert (tree["x"] - EAST, tree["y"] - NORTH) == pytest.approx((60, 50), abs=1)
    assert len(farm.trees) == 7


def test_nothing_is_read_at_a_tree_that_was_just_placed(hand, opened):
    hand.take("Tree")
    hand.click(60, 50, CTRL)
    hand.wait_for_edit()
    tree = opened.session.farm.trees.iloc[-1]
    hand.hover(tree["x"] - EAST, tree["y"] - NORTH)
    assert "nan" not in opened.note_strip.reading.text()
    assert hand.tool.pointer_lines() == []
    hand.hover(70, 50, CTRL)
    assert "from the tree that is picked" in hand.tool.pointer_words()


def test_the_species_list_names_the_species(hand, opened):
    hand.take("Tree")
    from PySide6.QtWidgets import QComboBox

    choice = opened.note_strip.findChild(QComboBox)
    assert choice.currentText() == "coast redwood (REDW)"
    choice.setCurrentIndex(choice.findText("tōtara (TOTA)"))
    assert hand.tool.species == "TOTA"


def test_a_tree_is_dragged(hand):
    hand.take("Tree")
    hand.drag((10, 10), (40, 40), CTRL)
    hand.wait_for_edit()
    tree = hand.file().trees.loc[1]
    assert (tree["x"] - EAST, tree["y"] - NORTH) == pytest.approx((40, 40), abs=1.5)


def test_all_picked_trees_move_together_by_keys(hand, opened):
    opened.bench.picks.pick([("trees", 1), ("trees", 2)])
    hand.take("Tree")
    hand.key(Qt.Key.Key_Space)
    hand.key(Qt.Key.Key_Up, times=5)
    hand.key(Qt.Key.Key_Left, SHIFT, times=5)
    hand.key(Qt.Key.Key_Return)
    farm = hand.wait_for_edit()
    scale = farm.grid.scale(EAST, NORTH)
    trees = hand.file().trees
    assert list(trees["y"].loc[[1, 2]] - NORTH) == pytest.approx([10 + 5 * scale] * 2, abs=1e-3)
    assert list(trees["x"].loc[[1, 2]] - EAST) == pytest.approx([10 - 0.5 * scale, 20 - 0.5 * scale], abs=1e-3)
    assert opened.files.undo_name == "Move 2 trees"


def test_a_tree_is_placed_by_the_cross_hair(hand):
    hand.take("Tree")
    hand.key(Qt.Key.Key_Down, CTRL, times=4)
    spot = hand.tool.spot
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    tree = hand.file().trees.iloc[-1]
    assert (tree["x"], tree["y"]) == pytest.approx(spot.place)


# Pick


def test_many_are_picked_by_shift_and_taken_away_after_showing_what_goes(hand, opened):
    hand.click(10, 10)
    assert opened.bench.picks.rows == (("trees", 1),)
    hand.click(20, 10, SHIFT)
    assert opened.bench.picks.rows == (("trees", 1), ("trees", 2))
    assert "2 trees are picked" in hand.words
    hand.key(Qt.Key.Key_Delete)
    assert "Take away 2 trees?" in hand.words
    assert "3 measurements" in hand.words
    assert len(hand.file().trees) == 6
    hand.key(Qt.Key.Key_Delete)
    hand.wait_for_edit()
    farm = hand.file()
    assert list(farm.trees.index) == [3, 4, 5, 6]
    assert set(farm.measurements["tree"]) == {3, 4, 6}
    assert len(hand.undo().trees) == len(hand.file().trees) == 6


def test_a_rectangle_picks_all_in_it(hand, opened):
    hand.drag((4, 15), (35, 4), SHIFT)
    assert set(opened.bench.picks.rows) >= {("trees", 1), ("trees", 2)}
    assert ("trees", 4) not in opened.bench.picks.rows
    hand.click(60, 60)
    assert opened.bench.picks.rows == (("blocks", 1),)


def test_lines_are_picked_and_taken_away_with_other_things_in_one_edit(hand, opened):
    hand.click(40, -18)
    assert opened.bench.picks.rows == (("fences", 1),)
    assert "Creek fence" in hand.words
    hand.click(60, -25, SHIFT)
    assert opened.bench.picks.rows == (("fences", 1), ("trees", 6))
    hand.key(Qt.Key.Key_Delete)
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert len(hand.file().fences) == 0
    assert len(hand.file().trees) == 5
    hand.undo()
    assert len(hand.file().fences) == 1


def test_what_stays_of_a_block_is_said_before_it_goes(hand, opened):
    hand.click(60, 60)
    assert opened.bench.picks.rows == (("blocks", 1),)
    hand.key(Qt.Key.Key_Delete)
    standing = opened.contents.now.standing
    inside = shapely.intersects_xy(opened.session.farm.blocks.geometry.loc[1], standing.x, standing.y).sum()
    assert f"the {inside} trees in it stay, without a block." in hand.words
    assert " ha; " in hand.words
    hand.key(Qt.Key.Key_Return)
    hand.wait_for_edit()
    assert list(hand.file().blocks.index) == [2]
    assert len(hand.file().trees) == 6


def test_escape_keeps_what_was_to_go(hand, opened):
    hand.click(40, -18)
    hand.key(Qt.Key.Key_Delete)
    hand.key(Qt.Key.Key_Escape)
    assert opened.bench.picks.rows == (("fences", 1),)
    assert "Take away" not in hand.words
    hand.key(Qt.Key.Key_Escape)
    assert opened.bench.picks.rows == ()


# Measure


def test_a_distance_is_measured_along_the_ground(hand, opened):
    before = opened.session.farm
    hand.take("Measure", "distance")
    hand.click(0, 0)
    hand.double_click(100, 0)
    scale = opened.session.farm.grid.scale(EAST, NORTH)
    assert hand.tool.result() == f"{100 / scale:.1f} m, bearing 90.0°"
    assert hand.tool.result() in hand.words
    assert opened.session.farm is before


def test_an_area_is_measured(hand):
    hand.take("Measure", "area")
    for corner in ((0, 0), (100, 0), (100, 100), (0, 100)):
        hand.click(*corner)
    hand.click(0, 0)
    assert hand.tool.result().startswith("1.000 ha, ")
