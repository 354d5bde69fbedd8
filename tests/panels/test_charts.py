"""Charts: round scales, marks where they should be, words for who cannot see them."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QPalette

from farmmap.panels.blocks.distribution import classes_of, species_of
from farmmap.panels.chart import Bar, BarChart, Share, ShareChart, ink_on, luminance, number, round_ticks
from farmmap.panels.line_chart import LineChart, Reading
from farmmap.panels.wrapped_label import WrappedLabel
from farmmap.scene.symbols import OKABE_ITO, UNKNOWN_COLOUR


@given(st.floats(1e-3, 1e9), st.integers(2, 8))
def test_ticks_are_round_and_reach_the_top(top, most):
    ticks = round_ticks(top, most)
    step = ticks[1]
    assert ticks[0] == 0
    assert ticks[-1] >= top * (1 - 1e-9)
    assert len(ticks) <= most + 1
    assert float(f"{step:.0e}"[0]) in (1, 2, 5)


@pytest.mark.parametrize("colour", [*OKABE_ITO, UNKNOWN_COLOUR])
def test_letters_on_every_colour_can_be_read(colour):
    lights = sorted((luminance(ink_on(colour)), luminance(QColor(colour))))
    assert (lights[1] + 0.05) / (lights[0] + 0.05) >= 4.5


def test_ticks_of_nothing():
    assert round_ticks(0) == [0.0, 1.0]
    assert number(2.50) == "2.5"
    assert number(100.0) == "100"


def shown(qtbot, chart, wide=400, high=260):
    qtbot.addWidget(chart)
    chart.resize(wide, high)
    return chart.grab().toImage()


def test_bars_are_as_high_as_their_numbers(qtbot):
    chart = BarChart("Diameters", "cm", "Trees")
    bars = [Bar(0, 5, 10, "0 to 5 cm: 10 trees"), Bar(5, 10, 40, "5 to 10 cm: 40 trees"), Bar(10, 15, 20, "ten")]
    chart.show_bars("Diameters, all", bars, "none")
    picture = shown(qtbot, chart)
    accent = chart.palette().color(QPalette.ColorRole.Accent).rgb()
    heights = []
    for part in (1 / 6, 3 / 6, 5 / 6):
        box = [box for box, _ in chart._hot]
        x = round(box[0].left() + part * (box[-1].right() - box[0].left()))
        heights.append(sum(picture.pixel(x, y) == accent for y in range(picture.height())))
    assert heights[1] > 60
    assert heights[0] / heights[1] == pytest.approx(0.25, abs=0.04)
    assert heights[2] / heights[1] == pytest.approx(0.5, abs=0.04)
    assert chart.words_at(chart._hot[1][0].center()) == "5 to 10 cm: 40 trees"
    assert chart.words_at(QPointF(1, 1)) == ""
    assert "40 trees" in chart.accessibleDescription()


def test_an_empty_chart_says_so(qtbot):
    chart = BarChart("Diameters", "cm", "Trees")
    chart.show_bars("Diameters", [], "No tree was measured by this date.")
    shown(qtbot, chart)
    assert chart.accessibleDescription() == "No tree was measured by this date."


def test_shares_fill_their_part_of_the_line(qtbot):
    chart = ShareChart("Species")
    chart.show_shares(
        "Species", [Share("tōtara", 0.75, "3 stems", "#0072B2"), Share("rimu", 0.25, "1 stem", "#D55E00")], "none"
    )
    picture = shown(qtbot, chart)
    count = sum(picture.pixelColor(x, y).name() == "#0072b2" for x in range(400) for y in range(260))
    other = sum(picture.pixelColor(x, y).name() == "#d55e00" for x in range(400) for y in range(260))
    assert count / other == pytest.approx(3, rel=0.03)
    assert chart.minimumSizeHint().height() > 60


def test_readings_are_joined_in_order_and_later_ones_hollow(qtbot):
    chart = LineChart("Diameter", "cm")
    readings = [Reading(dt.date(2020, 5, 1), 22.5, "later"), Reading(dt.date(2012, 5, 1), 12.0, "earlier")]
    chart.show_readings("Diameter", readings, dt.date(2015, 1, 1), "none")
    picture = shown(qtbot, chart)
    first, last = (box.center().toPoint() for box, _ in chart._hot)
    assert first.x() < last.x()
    assert first.y() > last.y()
    assert picture.pixelColor(first) == chart.palette().color(QPalette.ColorRole.Accent)
    assert picture.pixelColor(last) == chart.palette().color(QPalette.ColorRole.Base)
    assert [reading.words for reading in chart.readings] == ["earlier", "later"]


def test_classes_are_added_up_over_blocks_without_gaps():
    rows = [
        {"diameter_classes": [{"from_cm": 10.0, "to_cm": 15.0, "stems": 2}]},
        {
            "diameter_classes": [
                {"from_cm": 10.0, "to_cm": 15.0, "stems": 1},
                {"from_cm": 20.0, "to_cm": 25.0, "stems": 4},
            ]
        },
        {"diameter_classes": []},
    ]
    assert classes_of(rows) == [(10.0, 15.0, 3), (15.0, 20.0, 0), (20.0, 25.0, 4)]
    assert classes_of([]) == []


def test_species_are_added_up_over_blocks():
    rows = [
        {"species": [{"species": "rimu", "code": "RIMU", "stems": 2}]},
        {
            "species": [
                {"species": "tōtara", "code": "TOTA", "stems": 5},
                {"species": "rimu", "code": "RIMU", "stems": 1},
            ]
        },
        {},
    ]
    assert species_of(rows) == [("tōtara", "TOTA", 5), ("rimu", "RIMU", 3)]


def test_wrapped_words_get_the_height_they_need(qtbot):
    label = WrappedLabel("What was measured on or before this day; living trees, each counted once. " * 3)
    qtbot.addWidget(label)
    label.resize(600, 20)
    label.show()
    wide = label.minimumHeight()
    label.resize(200, 20)
    assert label.minimumHeight() > 2 * wide
    label.setText("short")
    assert label.minimumHeight() < wide
