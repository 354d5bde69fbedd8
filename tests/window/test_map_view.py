"""The map answers mouse, wheel, trackpad and keyboard."""

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication

from farmmap.scene.scene import Chosen


def wheel(widget, place, *, angle=0, pixels=(0, 0), phase=Qt.ScrollPhase.NoScrollPhase):
    """Turn the wheel, or move two fingers, over a place of a widget."""
    event = QWheelEvent(
        QPointF(place),
        QPointF(widget.mapToGlobal(place)),
        QPoint(*pixels),
        QPoint(0, angle),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        phase,
        False,
    )
    QApplication.sendEvent(widget, event)


def drag(qtbot, widget, start, end):
    qtbot.mousePress(widget, Qt.MouseButton.LeftButton, pos=start)
    for part in (0.2, 0.6, 1.0):
        qtbot.mouseMove(
            widget, QPoint(*(round(a + part * (b - a)) for a, b in zip(start.toTuple(), end.toTuple(), strict=True)))
        )
    qtbot.mouseRelease(widget, Qt.MouseButton.LeftButton, pos=end)


def test_shows_the_whole_farm_when_opened(opened):
    view, farm = opened.map_view.view, opened.session.farm
    west, south, east, north = farm.bounds()
    seen = view.ground_bounds()
    assert seen[0] < west
    assert seen[1] < south
    assert seen[2] > east
    assert seen[3] > north


def test_paints_the_farm(opened):
    picture = opened.map_view.grab().toImage()
    ground = opened.map_view.place_of(
        *np.array(opened.session.farm.blocks.geometry.iloc[0].centroid.coords[0])
    ).toPoint()
    inside = picture.pixelColor(ground.x(), ground.y() - 30).name()
    assert inside != picture.pixelColor(picture.width() - 5, 5).name()


def test_dragging_moves_the_ground_with_the_pointer(qtbot, opened, settle):
    map_view = opened.map_view
    start, end = QPoint(500, 300), QPoint(560, 260)
    before = map_view.ground_at(QPointF(start))
    drag(qtbot, map_view, start, end)
    assert map_view.ground_at(QPointF(end)) == pytest.approx(before, abs=1e-6)
    assert opened.session.chosen is None
    settle(opened)
    assert map_view.is_up_to_date


def test_wheel_comes_closer_about_the_pointer(opened):
    map_view, place = opened.map_view, QPoint(450, 200)
    before, scale = map_view.ground_at(QPointF(place)), map_view.view.metres_per_mm
    wheel(map_view, place, angle=120)
    assert map_view.view.metres_per_mm == pytest.approx(scale / 1.25)
    assert map_view.ground_at(QPointF(place)) == pytest.approx(before, abs=1e-6)


def test_two_fingers_on_a_trackpad_move_the_map(opened):
    map_view, place = opened.map_view, QPoint(450, 200)
    before, scale = map_view.ground_at(QPointF(place)), map_view.view.metres_per_mm
    wheel(map_view, place, pixels=(12, -30), angle=-30, phase=Qt.ScrollPhase.ScrollUpdate)
    assert map_view.view.metres_per_mm == scale
    assert map_view.ground_at(QPointF(place) + QPointF(12, -30)) == pytest.approx(before, abs=1e-6)


def test_keyboard_moves_enlarges_and_shows_all(qtbot, opened):
    map_view = opened.map_view
    start = map_view.view
    qtbot.keyClick(map_view, Qt.Key.Key_Right)
    assert map_view.view.centre_x > start.centre_x
    qtbot.keyClick(map_view, Qt.Key.Key_Up)
    assert map_view.view.centre_y > start.centre_y
    qtbot.keyClick(map_view, Qt.Key.Key_Plus)
    qtbot.keyClick(map_view, Qt.Key.Key_Plus)
    qtbot.keyClick(map_view, Qt.Key.Key_Minus)
    assert map_view.view.metres_per_mm == pytest.approx(start.metres_per_mm / 1.25)
    qtbot.keyClick(map_view, Qt.Key.Key_Home)
    assert map_view.view == start


def test_a_click_picks_a_tree_and_the_next_what_lies_beneath(qtbot, opened, settle):
    map_view, farm = opened.map_view, opened.session.farm
    tree = farm.trees.loc[2]
    place = map_view.place_of(tree["x"], tree["y"]).toPoint()
    qtbot.mouseClick(map_view, Qt.MouseButton.LeftButton, pos=place)
    assert opened.session.chosen == Chosen("tree", 2)
    assert opened.panels.tabText(opened.panels.currentIndex()) == "Trees"
    settle(opened)
    place = map_view.place_of(tree["x"], tree["y"]).toPoint()
    qtbot.mouseClick(map_view, Qt.MouseButton.LeftButton, pos=place)
    assert opened.session.chosen == Chosen("block", 1)
    assert opened.panels.tabText(opened.panels.currentIndex()) == "Blocks"


def test_a_click_picks_a_margin(qtbot, opened):
    map_view = opened.map_view
    middle = opened.contents.now.margins[0].polygon.representative_point()
    qtbot.mouseClick(map_view, Qt.MouseButton.LeftButton, pos=map_view.place_of(middle.x + 7, middle.y).toPoint())
    assert opened.session.chosen == Chosen("margin", 0)
    assert opened.panels.tabText(opened.panels.currentIndex()) == "Creek margins"


def test_escape_and_empty_ground_let_go(qtbot, opened):
    map_view = opened.map_view
    opened.session.choose(Chosen("block", 1))
    qtbot.keyClick(map_view, Qt.Key.Key_Escape)
    assert opened.session.chosen is None
    opened.session.choose(Chosen("block", 1))
    qtbot.mouseClick(map_view, Qt.MouseButton.LeftButton, pos=QPoint(map_view.width() - 4, 4))
    assert opened.session.chosen is None


def test_what_is_chosen_is_painted_over_the_map(opened):
    map_view = opened.map_view
    before = map_view.grab().toImage()
    opened.session.choose(Chosen("block", 2))
    corner = opened.session.farm.blocks.geometry.loc[2].exterior.coords[0]
    place = map_view.place_of(*corner).toPoint()
    after = map_view.grab().toImage()
    assert before.pixelColor(place) != after.pixelColor(place)


def test_choosing_elsewhere_moves_the_map_there(opened):
    map_view = opened.map_view
    for _ in range(12):
        map_view.zoom(1.25)
    far = opened.session.farm.trees.loc[6]
    map_view.show_ground((far["x"] + 500, far["y"] + 500, far["x"] + 520, far["y"] + 520))
    opened.session.choose(Chosen("tree", 6))
    assert map_view.view.centre_x == pytest.approx(far["x"])


def test_a_larger_window_keeps_the_middle(qtbot, opened, settle):
    before = opened.map_view.view
    opened.resize(1500, 900)
    qtbot.waitUntil(lambda: opened.map_view.view.width_mm != before.width_mm)
    assert opened.map_view.view.centre_x == before.centre_x
    settle(opened)


def test_coming_closer_by_keys_keeps_what_is_chosen_in_sight(qtbot, opened):
    view, trees = opened.map_view, opened.session.farm.trees
    opened.session.choose(Chosen("tree", int(trees.index[0])))
    for _ in range(6):
        qtbot.keyClick(view, Qt.Key.Key_Plus)
    place = view.place_of(float(trees["x"].iloc[0]), float(trees["y"].iloc[0]))
    assert view.rect().contains(place.toPoint())
