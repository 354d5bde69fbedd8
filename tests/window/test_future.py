"""The date line runs on into the future: sizes are forecast there, and said to be so."""

import datetime as dt
import threading
import time
from dataclasses import replace

import pytest
from PySide6.QtCore import QDate, Qt
from PySide6.QtGui import QImage

from farmmap.editing.fields import fields_changed
from farmmap.editing.tape_entry import measured
from farmmap.figures.remembered import Remembered
from farmmap.files.farm_file import write_farm
from farmmap.panels.registry import Options
from farmmap.scene.scene import Chosen, CrownLayer
from farmmap.window.date_line import COMING, FORECAST_FOR, SHOWN
from farmmap.window.farm_days import YEARS_AHEAD
from tests.figures.growing_stand import growing_stand

WAIT_MS = 30_000
NOW = dt.datetime.now().astimezone().date()
AHEAD = dt.date(NOW.year + 20, 5, 1)


@pytest.fixture
def stand(qtbot, window, tmp_path, settle):
    path = tmp_path / "stand.gpkg"
    write_farm(growing_stand(), path)
    window.open_farm(path)
    qtbot.waitUntil(lambda: window.session.farm is not None, timeout=WAIT_MS)
    settle(window)
    return window


@pytest.fixture
def ahead(qtbot, stand, settle):
    """A window that shows a day that has not come."""
    stand.date_line.field.setDate(QDate(AHEAD.year, AHEAD.month, AHEAD.day))
    qtbot.waitUntil(lambda: not stand.session.is_waiting, timeout=WAIT_MS)
    settle(stand)
    return stand


def cover(window):
    return window.panels.page("Blocks").view.model.numbers_at(0)["crown_cover_percent"]


def crowns(window):
    return next(layer for layer in window.contents.now.scene.layers if isinstance(layer, CrownLayer))


def test_the_line_runs_on_for_sixty_years(stand):
    slider, days = stand.date_line.slider, stand.session.days
    assert days.last == NOW
    assert slider.maximum() == dt.date(NOW.year + YEARS_AHEAD, 12, 31).toordinal()
    assert stand.date_line.field.maximumDate() == QDate(NOW.year + YEARS_AHEAD, 12, 31)
    assert not days.is_forecast(NOW)
    assert days.is_forecast(NOW + dt.timedelta(days=1))
    picture = slider.grab().toImage()
    y = round(slider.fontMetrics().height() + 9)
    row = [picture.pixel(x, y) for x in range(round(slider.x_of(NOW)) + 12, picture.width() - 16)]
    before = [picture.pixel(x, y) for x in range(16, round(slider.x_of(days.first)) + 4)]
    assert len(set(row)) > 1  # broken where it is forecast
    assert len(set(before)) <= 2


def test_sliding_ahead_shows_forecast_sizes_everywhere(ahead, stand, settle):
    window = ahead
    assert window.session.on == AHEAD
    assert window.date_line.words.text() == FORECAST_FOR
    assert window.contents.now.standing.forecast
    layer = crowns(window)
    assert layer.style.dash
    assert layer.trees.forecast
    assert any(entry.words == "crowns as forecast, seen close" for entry in window.contents.now.scene.key)
    view = window.panels.page("Blocks").view
    assert view.notes.text().startswith(f"Forecast for {AHEAD.isoformat()}, not measured")
    later = cover(window)
    widths = layer.trees.crown_m.mean()
    window.date_line.today.click()
    settle(window)
    assert window.session.on == NOW
    assert window.date_line.words.text() == SHOWN
    assert not window.date_line.today.isEnabled()
    assert not crowns(window).style.dash
    assert later > cover(window) + 2
    assert widths > crowns(window).trees.crown_m.mean() + 1


def test_margins_and_one_tree_follow(ahead, settle):
    ahead.session.choose(Chosen("tree", 5))
    settle(ahead)
    view = ahead.panels.page("Trees").view
    record = {view.record_rows.figure_at(row)[0]: row for row in range(view.record_rows.rowCount())}
    assert view.record_rows.data(view.record_rows.index(record["crown_from"], 1)) == "forecast"
    ahead.session.choose(Chosen("margin", 0))
    settle(ahead)
    assert ahead.panels.page("Creek margins").view.notes.text().startswith("Trees and crowns forecast for")


def test_until_the_forecast_is_there_what_is_known_is_shown(qtbot, stand, settle, monkeypatch):
    from farmmap.figures import standing_ahead

    may_go_on, real = threading.Event(), standing_ahead.growth_for

    def slow(farm):
        if threading.current_thread() is threading.main_thread():
            raise AssertionError("the window waits for a forecast")
        may_go_on.wait(20)
        return real(farm)

    monkeypatch.setattr("farmmap.figures.standing_ahead.growth_for", slow)
    began = time.perf_counter()
    slider = stand.date_line.slider
    slider.setValue(AHEAD.toordinal())
    slider.setValue(AHEAD.toordinal() + 365)
    assert time.perf_counter() - began < 5
    assert stand.session.is_waiting
    assert stand.date_line.words.text() == COMING
    assert slider.day() == AHEAD + dt.timedelta(days=365)
    qtbot.waitUntil(lambda: stand.contents.now.on == NOW, timeout=WAIT_MS)
    assert not stand.contents.now.standing.forecast
    stand.session.choose(Chosen("block", 1))  # the window goes on
    may_go_on.set()
    qtbot.waitUntil(lambda: not stand.session.is_waiting, timeout=WAIT_MS)
    settle(stand)
    assert stand.contents.now.on == AHEAD + dt.timedelta(days=365)
    assert stand.contents.now.standing.forecast


def test_sliding_back_before_it_is_there_stays_back(qtbot, stand, settle):
    stand.session.set_date(AHEAD)
    stand.session.set_date(dt.date(2014, 5, 1))
    qtbot.waitUntil(lambda: not stand.jobs.is_busy("growth"), timeout=WAIT_MS)
    settle(stand)
    assert stand.session.on == stand.session.wanted == dt.date(2014, 5, 1)
    assert stand.date_line.words.text() == SHOWN


def test_keys_reach_the_end_of_the_line(qtbot, ahead, settle):
    slider = ahead.date_line.slider
    slider.setFocus()
    qtbot.keyClick(slider, Qt.Key.Key_End)
    settle(ahead)
    assert ahead.session.on == ahead.session.days.ahead
    qtbot.keyClick(slider, Qt.Key.Key_PageUp)
    qtbot.keyClick(slider, Qt.Key.Key_PageDown)
    assert ahead.session.wanted in {ahead.session.days.newest, ahead.session.days.ahead}


def test_an_edit_that_leaves_growth_alone_keeps_the_forecast_day(qtbot, ahead, settle):
    farm = ahead.session.farm
    ahead.files.carry_out(fields_changed(farm, "trees", [3], {"mark": "crop"}).edit)
    qtbot.waitUntil(lambda: ahead.session.farm is not farm, timeout=WAIT_MS)
    assert ahead.session.on == AHEAD  # at once: nothing has to be worked out again of how trees grow
    settle(ahead)
    assert ahead.contents.now.standing.forecast
    assert ahead.contents.now.farm is ahead.session.farm


def test_a_reading_brings_another_forecast(qtbot, ahead, settle):
    farm, before = ahead.session.farm, ahead.contents.now.standing.dbh_cm[5]
    edit = measured(farm, 6, dt.date(2025, 11, 1), dbh_cm=70.0).edit
    ahead.files.carry_out(edit)
    qtbot.waitUntil(lambda: ahead.session.farm is not farm, timeout=WAIT_MS)
    qtbot.waitUntil(lambda: not ahead.session.is_waiting, timeout=WAIT_MS)
    settle(ahead)
    assert ahead.session.on == AHEAD
    assert ahead.contents.now.standing.dbh_cm[5] > before


def test_the_map_says_that_it_is_forecast(ahead, settle):
    from PySide6.QtGui import QPainter

    from farmmap.window.map_overlay import paint_forecast

    def painted(now):
        image = QImage(500, 100, QImage.Format.Format_ARGB32_Premultiplied)
        image.fill(0)
        painter = QPainter(image)
        paint_forecast(painter, now)
        painter.end()
        return sum(image.pixelColor(x, 20).alpha() > 0 for x in range(500))

    assert painted(ahead.contents.now) > 100
    ahead.date_line.today.click()
    settle(ahead)
    assert painted(ahead.contents.now) == 0


@pytest.fixture
def fitting(stand, monkeypatch):
    """Return a window that is told species by species how they grow: an event for each, and those that were begun."""
    from farmmap.figures.growth import farm_growth

    may_go_on, begun, real = threading.Event(), [], farm_growth.species_growth

    def slow(code, label, known, trees):
        begun.append(code)
        may_go_on.wait(20)
        return real(code, label, known, trees)

    monkeypatch.setattr("farmmap.figures.growth.farm_growth.species_growth", slow)
    monkeypatch.setattr("farmmap.figures.growth.farm_growth._SPECIES", Remembered(200))
    return stand, may_go_on, begun


def test_stopping_it_goes_back_to_what_is_known(qtbot, fitting, settle):
    window, may_go_on, begun = fitting
    window.session.set_date(AHEAD)
    qtbot.waitUntil(lambda: len(begun) == 1, timeout=WAIT_MS)
    window.jobs.stop("growth")
    may_go_on.set()
    qtbot.waitUntil(lambda: not window.session.is_waiting, timeout=WAIT_MS)
    settle(window)
    assert len(begun) == 1
    assert window.session.on == window.session.wanted == NOW
    assert window.date_line.words.text() == SHOWN
    window.session.set_date(AHEAD)  # it can be asked for again
    qtbot.waitUntil(lambda: window.session.on == AHEAD, timeout=WAIT_MS)


def test_another_farm_does_not_wait_for_the_growth_of_the_first(qtbot, fitting, settle, tmp_path):
    window, may_go_on, begun = fitting
    other = tmp_path / "other.gpkg"
    write_farm(growing_stand(), other)
    first = window.session.farm
    window.session.set_date(AHEAD)
    qtbot.waitUntil(lambda: len(begun) == 1, timeout=WAIT_MS)
    window.open_farm(other)
    qtbot.waitUntil(lambda: window.session.farm is not first, timeout=WAIT_MS)
    assert not window.session.is_waiting
    may_go_on.set()
    settle(window)
    assert len(begun) == 1
    assert window.session.on == window.session.days.newest


def test_closing_does_not_wait_for_every_species(qtbot, fitting):
    window, may_go_on, begun = fitting
    window.panels.setCurrentWidget(window.panels.page("Growth"))
    window.session.set_date(AHEAD)
    qtbot.waitUntil(lambda: len(begun) == 1, timeout=WAIT_MS)
    threading.Timer(0.3, may_go_on.set).start()
    window.close()
    assert len(begun) == 1


def test_trouble_is_told_once_and_what_is_known_stays(qtbot, stand, settle, monkeypatch):
    def fails(_farm):
        raise ValueError("no such curve")

    told = []
    monkeypatch.setattr("farmmap.figures.standing_ahead.growth_for", fails)
    stand.jobs.failed.disconnect()
    stand.jobs.failed.connect(told.append)
    for day in (AHEAD, AHEAD + dt.timedelta(days=40)):
        stand.session.set_date(day)
        qtbot.waitUntil(lambda: not stand.session.is_waiting, timeout=WAIT_MS)
        settle(stand)
        assert stand.session.on == stand.session.wanted == NOW
        assert stand.date_line.slider.day() == NOW
        assert stand.date_line.words.text() == SHOWN
    assert len(told) == 1


def test_longer_figures_widen_their_column(qtbot, stand, settle):
    view = stand.panels.page("Blocks").view
    table, column = view.model.table, view.model.columns.index("stems")
    before = view.table.columnWidth(column)
    more = replace(table, rows=tuple({**row, "stems": 123_456_789_012} for row in table.rows))
    view.show_figures(stand.session.farm, Options(NOW, None, {}, None), more)
    qtbot.waitUntil(lambda: view.table.columnWidth(column) >= view.table.sizeHintForColumn(column), timeout=WAIT_MS)
    assert view.table.columnWidth(column) > before


def test_a_panel_that_takes_long_says_so_and_can_be_stopped(qtbot, fitting, settle):
    window, may_go_on, begun = fitting
    page = window.panels.page("Growth")
    window.panels.setCurrentWidget(page)
    qtbot.waitUntil(window.busy_strip.isVisible, timeout=WAIT_MS)
    window.busy_strip.stop_button.click()
    may_go_on.set()
    qtbot.waitUntil(lambda: not window.jobs.is_busy(), timeout=WAIT_MS)
    assert len(begun) == 1
    assert page.view.isEnabled()
    assert not page.is_up_to_date
    window.panels.setCurrentIndex(0)
    window.panels.setCurrentWidget(page)  # begins anew
    settle(window)
    assert len(begun) > 1
