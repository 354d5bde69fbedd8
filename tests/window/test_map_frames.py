"""The picture at rest is the exact one, and what moves or was edited is seen at once."""

import datetime as dt
import threading
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely
from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QImage, QPainter

from farmmap.drawing.map_painter import MapPainter
from farmmap.drawing.stamps import pixels_of
from farmmap.farm.edits import rows_changed, rows_taken_away
from farmmap.progress import SILENT
from farmmap.scene.build import build_scene
from farmmap.window.jobs import Jobs
from farmmap.window.map_contents import MapContents, make_contents, make_contents_after
from farmmap.window.map_picture import MOST_WAIT_S, Turns
from farmmap.window.map_view import MapView
from farmmap.window.session import Session
from tests.scene.made_farm import made_farm

ON = dt.date(2025, 1, 1)
SIZE = QSize(640, 480)


class Shown:
    """A map by itself on a farm."""

    def __init__(self, qtbot, farm):
        self.qtbot = qtbot
        self.session, self.jobs = Session(), Jobs()
        self.contents = MapContents(self.session, self.jobs)
        self.view = MapView(self.session, self.contents, self.jobs)
        qtbot.addWidget(self.view)
        self.view.resize(SIZE)
        self.contents.changed.connect(self.view.follow_contents)
        self.session.farm, self.session.path, self.session.on = farm, Path("made.gpkg"), ON
        self.view.show()
        self.contents.now = make_contents(farm, ON, "light", frozenset(), SILENT)
        self.contents.changed.emit()
        self.rest()

    def rest(self):
        self.qtbot.waitUntil(lambda: self.view.is_up_to_date and not self.jobs.is_busy(), timeout=30_000)

    def dots(self):
        """What the pictures show now, without what lies over them."""
        image = QImage(SIZE, QImage.Format.Format_RGB32)
        image.fill(0)
        painter = QPainter(image)
        self.view._frames.lay(painter)
        painter.end()
        return pixels_of(image).copy() & 0xFFFFFF

    def exact(self):
        """What a painter that remembers nothing paints."""
        scene = build_scene(self.contents.now.farm, ON)
        image = QImage(SIZE, QImage.Format.Format_RGB32)
        painter = QPainter(image)
        MapPainter().paint(painter, scene, self.view.view, self.view.dots_per_mm())
        painter.end()
        return pixels_of(image).copy() & 0xFFFFFF

    def edit(self, edit):
        """Carry out an edit as the window does: everything made ready, then shown in one step."""
        now = self.contents.now
        after = edit.apply(now.farm)
        made = make_contents_after(now, after, edit, ON)
        self.session.farm = after
        self.contents.take(made)
        return made


@pytest.fixture
def show(qtbot):
    made = []

    def make(farm):
        made.append(Shown(qtbot, farm))
        return made[-1]

    yield make
    for one in made:
        one.jobs.close()


@pytest.mark.parametrize("trees", [500, 40_000])
def test_the_picture_at_rest_is_the_exact_one_dot_for_dot(show, trees):
    shown = show(made_farm(12, trees))
    assert (shown.dots() == shown.exact()).all()
    for move in (
        lambda: shown.view.pan(23, -17),
        lambda: shown.view.zoom(2.5, QPointF(200, 150)),
        lambda: shown.view.pan(-210, 4),
        lambda: shown.view.zoom(3.0),
        lambda: shown.view.zoom(0.2),
    ):
        move()
        shown.rest()
        assert (shown.dots() == shown.exact()).all()
    assert len(np.unique(shown.exact())) > 10


def test_a_picture_without_names_is_never_taken_for_the_one_that_is_wanted(show):
    shown = show(made_farm(12, 500))
    wanted = shown.view._frames._wanted
    whole = wanted.whole_farm()
    seen = replace(wanted, view=whole.view)  # the map shows just what the picture beneath all others does
    assert seen.shows(replace(wanted, view=whole.view))
    assert not seen.shows(whole)


def test_a_map_moved_there_and_back_keeps_its_exact_picture(show):
    shown = show(made_farm(12, 500))
    frames = shown.view._frames
    between = replace(frames._exact, view=frames._exact.view.panned(30.0, 20.0))
    frames._take_exact(between)
    assert shown.view.is_up_to_date
    assert (shown.dots() == shown.exact()).all()


def test_while_the_map_is_pushed_the_dots_move_with_it(show):
    shown = show(made_farm(12, 500))
    shown.view.zoom(3.0)
    shown.rest()
    before = shown.dots()
    shown.view.pan(40, 25)
    moved = shown.dots()
    assert not shown.view.is_up_to_date
    assert (moved[25:, 40:] == before[:-25, :-40]).all()
    shown.rest()
    same = shown.dots() == moved  # names and dashes may have gone elsewhere
    assert same.mean() > 0.9


def test_a_push_shows_no_empty_strip(show):
    shown = show(made_farm(12, 500))
    shown.view.zoom(4.0)
    shown.rest()
    shown.view.pan(-180, 0)
    strip = shown.dots()[:, -180:]
    shown.rest()
    exact = shown.exact()[:, -180:]
    bare = shown.contents.now.scene.theme.outside
    assert (strip == exact).mean() > 0.7  # names are put elsewhere, dashes begin elsewhere
    assert (strip == int(bare[1:], 16)).mean() == pytest.approx((exact == int(bare[1:], 16)).mean(), abs=0.03)
    assert len(np.unique(strip)) > 5


def test_the_background_gives_way_until_the_window_has_painted():
    turns, went_on = Turns(), threading.Event()
    turns.claim()
    other = threading.Thread(target=lambda: (turns.wait(), went_on.set()))
    with turns:
        other.start()
        assert not went_on.wait(MOST_WAIT_S / 3)
    assert went_on.wait(10)
    other.join()


def test_the_background_goes_on_when_the_window_does_not_paint_after_all():
    turns = Turns()
    turns.claim()
    for _ in range(2000):  # it waits once, not each time
        turns.wait()
    assert turns._free.is_set()


def test_a_picture_that_comes_while_the_map_moves_is_seen_at_the_latest_when_it_rests(show, qtbot):
    shown = show(made_farm(12, 500))
    with qtbot.waitSignal(shown.view.painted, timeout=30_000):
        shown.view.zoom(1.7)
        qtbot.waitUntil(lambda: shown.view.is_up_to_date, timeout=30_000)
    shown.rest()
    assert (shown.dots() == shown.exact()).all()


def test_while_zooming_the_best_picture_lies_above_the_others(show):
    shown = show(made_farm(12, 500))
    shown.view.zoom(3.0)
    shown.rest()
    shown.view.zoom(0.8)  # smaller: the exact picture covers the middle, the wide one goes on around it
    coarse = shown.dots()
    shown.rest()
    away = np.abs(coarse.view(np.uint8).astype(int) - shown.exact().view(np.uint8).astype(int))
    assert (away > 64).mean() < 0.12


def test_far_away_the_whole_farm_lies_beneath(show):
    shown = show(made_farm(12, 500))
    shown.view.zoom(8.0, QPointF(10, 10))
    shown.rest()
    shown.view.show_ground(shown.contents.now.scene.bounds)
    coarse = shown.dots()
    shown.rest()
    fine = shown.exact()
    ground = fine[5, 5]
    assert ((coarse != ground) == (fine != ground)).mean() > 0.9


def moved_block(farm, id_, east):
    rows = farm.blocks.loc[[id_]].copy()
    rows["geometry"] = rows.geometry.translate(east, 0)
    return rows_changed(farm, "Move", "blocks", rows)


def test_an_edited_block_stands_in_the_next_frame(show):
    shown = show(made_farm(12, 500))
    farm, before = shown.contents.now.farm, shown.dots()
    shown.edit(moved_block(farm, 2, 60.0))
    edited = shown.dots()  # nothing was painted in the background yet, as no event was handled
    assert not shown.view.is_up_to_date
    assert (edited != before).any()
    shown.rest()
    exact = shown.exact()
    assert (shown.dots() == exact).all()
    assert (edited == exact).mean() > 0.99
    assert (edited == exact).mean() > (before == exact).mean()


def test_an_edited_tree_stands_in_the_next_frame(show):
    shown = show(made_farm(12, 500))
    farm, view = shown.contents.now.farm, shown.view
    view._set_view(view.view.centred(float(farm.trees.loc[50, "x"]), float(farm.trees.loc[50, "y"])).zoomed(30.0))
    shown.rest()
    before = shown.dots()
    shown.edit(rows_taken_away(farm, "Remove", {"trees": pd.Index([50])}))
    edited = shown.dots()
    middle = np.s_[SIZE.height() // 2 - 3 : SIZE.height() // 2 + 3, SIZE.width() // 2 - 3 : SIZE.width() // 2 + 3]
    assert (edited[middle] != before[middle]).any()
    shown.rest()
    assert (shown.dots()[middle] == edited[middle]).all()
    assert (shown.dots() == shown.exact()).all()


def test_a_name_that_was_changed_is_gone_in_the_next_frame(show):
    shown = show(made_farm(6, 0))
    farm = shown.contents.now.farm
    (old,) = [label for label in shown.view._frames._exact.labels if label.text.replace("\n", " ") == "Block 3"]
    rows = farm.blocks.loc[[3]].assign(name="Top")
    shown.edit(rows_changed(farm, "Rename", "blocks", rows))
    assert old not in shown.view._frames._exact.labels
    shown.rest()
    assert any(label.text == "Top" for label in shown.view._frames._exact.labels)


def test_an_edit_of_everything_is_painted_at_once(show):
    shown = show(made_farm(12, 500))
    farm = shown.contents.now.farm
    rows = farm.blocks.copy()
    rows["geometry"] = rows.geometry.translate(30, 30)
    shown.edit(rows_changed(farm, "Move", "blocks", rows))
    assert (shown.dots() == shown.exact()).all()


def test_an_edit_that_changes_how_all_is_drawn_is_painted_at_once(show):
    shown = show(made_farm(12, 500))
    farm, before = shown.contents.now.farm, shown.dots()
    rows = farm.species.iloc[:1].assign(code="ZZZZ")
    shown.edit(rows_changed(farm, "Name", "species", rows))
    assert (shown.dots() == shown.exact()).all()
    assert (shown.dots() != before).any()


def test_edits_one_after_the_other_are_all_seen(show):
    shown = show(made_farm(12, 500))
    for id_ in (1, 2, 3):
        shown.edit(moved_block(shown.contents.now.farm, id_, 40.0))
    edited = shown.dots()
    shown.rest()
    assert (edited == shown.exact()).mean() > 0.98
    assert (shown.dots() == shown.exact()).all()


def test_what_was_made_from_other_contents_is_painted_all_afresh(show):
    shown = show(made_farm(12, 500))
    first = shown.contents.now
    edit = moved_block(first.farm, 2, 60.0)
    made = make_contents_after(first, edit.apply(first.farm), edit, ON)
    shown.edit(moved_block(first.farm, 4, 60.0))
    shown.session.farm = made.farm
    shown.contents.take(made)
    assert shown.contents.now.edited is None
    shown.rest()
    assert (shown.dots() == shown.exact()).all()


def test_contents_after_an_edit_are_those_made_afresh():
    farm = made_farm(12, 500)
    first = make_contents(farm, ON, "light", frozenset({"species:PRAD"}), SILENT)
    edit = moved_block(farm, 2, 15.0)
    after = edit.apply(farm)
    made = make_contents_after(first, after, edit, ON)
    fresh = build_scene(after, ON, hidden=frozenset({"species:PRAD"}))
    assert made.hidden == first.hidden
    assert made.scene.bounds == fresh.bounds
    assert [layer.name for layer in made.scene.layers] == [layer.name for layer in fresh.layers]
    assert made.scene.key == fresh.key
    (box,) = made.edited
    assert shapely.box(*box).covers(after.blocks.geometry.loc[2])
