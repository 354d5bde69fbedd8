"""The Growth panel: list, forecast of a tree, calendar, curves, and targets set by one edit each."""

import numpy as np
import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QImage

from farmmap.figures.growth.outlook_farm import farm_outlook
from farmmap.figures.growth.targets import targets_of
from farmmap.panels.growth import PANEL, work_out
from farmmap.panels.growth.calendar_chart import FAR_YEARS, MOST_BARS, OTHERS, CalendarChart, stacks_of
from farmmap.panels.growth.course_chart import CourseChart
from farmmap.panels.growth.curve_chart import CurveChart
from farmmap.panels.growth.view import PAGES, GrowthView
from farmmap.panels.registry import Options
from farmmap.scene.scene import Chosen
from farmmap.scene.symbols import OKABE_ITO, species_symbols
from tests.figures.growth.grown_farm import LONE, ON, PINES, THICK, grown_farm


@pytest.fixture(scope="module")
def grown():
    return grown_farm()


@pytest.fixture
def view(qtbot):
    made = GrowthView(PANEL)
    qtbot.addWidget(made)
    made.resize(480, 800)
    made.show()
    return made


def show(view, farm, chosen=None):
    options = Options(ON, chosen)
    view.show_figures(farm, options, work_out(farm, options))


def tags(view):
    return [view.list.model.data(view.list.model.index(row, 0)) for row in range(view.list.model.rowCount())]


def painted(widget):
    image = QImage(widget.size(), QImage.Format.Format_RGB32)
    widget.render(image)
    return image


def test_the_whole_farm_is_listed_those_ready_first(view, grown):
    show(view, grown)
    assert len(tags(view)) == PINES + 6
    ready = view.list.model.columns.index("ready")
    assert view.list.model.data(view.list.model.index(0, ready)) == "ready now"
    assert view.about.text().startswith("Whole farm: ")
    assert "no advice" in view.caution.text()
    assert not view.below_list.isVisible()


def test_a_block_is_listed_alone_and_a_tree_with_its_block(view, grown):
    show(view, grown, Chosen("block", 2))
    assert len(tags(view)) == 6
    assert view.about.text().startswith("Odd Corner: ")
    show(view, grown, Chosen("tree", 2))
    assert len(tags(view)) == PINES
    assert view.about.text().startswith("Pine Rise: ")
    assert view.list.table.currentIndex().row() == tags(view).index("T02")


def test_a_tree_shows_readings_forecast_target_and_year(view, grown, qtbot):
    show(view, grown, Chosen("tree", 2))
    assert view.below_list.isVisible()
    assert [reading.on.year for reading in view.chart.readings] == [2011, 2016, 2021, 2026]
    assert view.chart.aim.target_cm == 60.0
    assert view.chart.aim.low <= view.chart.aim.year
    assert view.tree_words.text().startswith("Tree T02, radiata pine: 20")
    assert "target 60 cm" in view.chart.accessibleDescription()
    assert "80 % interval" in view.chart.accessibleDescription()
    painted(view.chart)
    words = {view.chart.words_at(QPointF(x, y)) for x in range(0, 480, 4) for y in range(0, 400, 4)}
    assert any("2016-06-01" in one for one in words)
    assert any("80 % interval" in one for one in words)


def test_trees_without_a_forecast_say_so(view, grown):
    show(view, grown, Chosen("tree", THICK))
    assert view.tree_words.text() == f"Tree T{THICK}, radiata pine: ready now."
    assert view.chart.aim.year is None
    show(view, grown, Chosen("tree", LONE))
    assert "one reading only" in view.tree_words.text().casefold()
    painted(view.chart)
    bare = grown.with_tables(measurements=grown.measurements[grown.measurements["tree"] != LONE])
    show(view, bare, Chosen("tree", LONE))
    assert "not measured" in view.tree_words.text().casefold()
    assert view.chart.is_empty()
    painted(view.chart)


def test_a_tree_picked_in_the_list_is_chosen(view, grown, qtbot):
    show(view, grown)
    row = tags(view).index("T03")
    with qtbot.waitSignal(view.picked) as picked:
        view.list.table.setCurrentIndex(view.list.model.index(row, 0))
    assert picked.args == [Chosen("tree", 3)]
    view.show_chosen(Chosen("tree", 4))
    assert view.list.table.currentIndex().row() == tags(view).index("T04")


def test_every_page_is_reached_and_paints(view, grown, qtbot):
    show(view, grown, Chosen("tree", 1))
    blank = painted(view)
    for place, words in enumerate(PAGES):
        button = view.page_row.buttons.button(place)
        assert button.text() == words
        qtbot.mouseClick(button, Qt.MouseButton.LeftButton)
        assert view.pages.currentIndex() == place
        assert place == 0 or painted(view) != blank


def test_how_a_year_is_worked_out_stands_in_place_of_the_chart(view, grown):
    show(view, grown, Chosen("tree", 2))
    column = view.list.model.columns.index("ready")
    view.list.table.setCurrentIndex(view.list.model.index(view.list.table.currentIndex().row(), column))
    view.list.working.open_working()
    assert view.below_list.currentWidget() is view.list.working.text
    view.list.all_columns.setChecked(True)
    column = view.list.model.columns.index("ready_year")
    view.list.table.setCurrentIndex(view.list.model.index(tags(view).index("T02"), column))
    assert "target 60 cm" in view.list.working.text.toPlainText()
    view.list.working.button.setChecked(False)
    assert view.chart.isVisible()


def test_the_calendar_has_a_bar_for_each_year_and_counts_like_its_table(view, grown):
    show(view, grown)
    view.show_page(1)
    dated = [row for row in view.figures.calendar.rows if row["ready_by"] is not None]
    dated = [row for row in dated if (row["ready_year"] or ON.year) < ON.year + FAR_YEARS]
    assert sum(stack.height for stack in view.calendar.stacks) == sum(row["ready_trees"] for row in dated)
    assert "radiata pine" in view.calendar.accessibleDescription()
    painted(view.calendar)
    assert any(view.calendar.words_at(QPointF(x, 90)) for x in range(0, view.calendar.width(), 2))


def test_far_years_share_bars_and_rare_species_are_others(grown):
    rows = [
        {
            "when": str(2026 + year),
            "ready_year": 2026 + year,
            "ready_by": 1,
            "ready_trees": 2,
            "species": name,
            "code": name,
        }
        for year in range(0, 2 * MOST_BARS, 7)
        for name in "ABCDEFGHIJ"
    ]
    stacks = stacks_of(rows, 2026, species_symbols(grown))
    assert all(stack.years == 5 for stack in stacks[1:])
    assert stacks[0].years == 4
    assert sum(stack.height for stack in stacks) == 2 * len(rows)
    named = {part.name: part.colour for stack in stacks for part in stack.parts}
    assert OTHERS in named
    assert len(set(named.values())) == len(named) == len(OKABE_ITO) + 1
    assert stacks[0].words.startswith("2026 to 2029: ")
    assert stacks_of([], 2026, {}) == ()
    few = stacks_of(farm_outlook(grown, ON).rows, ON.year, species_symbols(grown))
    assert all(stack.years == 1 for stack in few)


def test_species_show_their_curve_and_how_well_it_tells(view, grown):
    show(view, grown)
    view.show_page(2)
    rows = list(view.figures.species.rows)
    pine = next(place for place, row in enumerate(rows) if row["code"] == "PRAD")
    view.species_table.table.setCurrentIndex(view.species_table.model.index(pine, 0))
    assert len(view.curve.course.curve_ages)
    assert view.curve.target_cm == 60.0
    assert rows[pine]["curve"] in view.species_words.text()
    assert "kept back" in view.species_words.text()
    painted(view.curve)
    rare = next(place for place, row in enumerate(rows) if row["code"] == "ARAR")
    view.species_table.table.setCurrentIndex(view.species_table.model.index(rare, 0))
    assert "not enough to say" in view.species_words.text()
    painted(view.curve)


def test_a_target_is_set_and_taken_away_by_one_edit_each(view, grown, qtbot):
    show(view, grown)
    view.show_page(3)
    form = view.form
    form.choose("PCAN")
    assert "No target is set yet" in form.answer.text()
    assert not form.away_button.isEnabled()
    form.dbh_cm.setValue(55)
    form.product.setText("sawlog")
    with qtbot.waitSignal(view.edit_wanted) as wanted:
        qtbot.mouseClick(form.set_button, Qt.MouseButton.LeftButton)
    edit = wanted.args[0]
    assert edit.name == "Set target of hybrid poplar to 55 cm"
    after = edit.apply(grown)
    assert targets_of(after).of("PCAN").dbh_cm == 55.0
    show(view, after)
    assert form.code == "PCAN"
    assert "the farm's own target" in form.answer.text()
    qtbot.mouseClick(form.set_button, Qt.MouseButton.LeftButton)
    assert "already" in form.answer.text()
    assert form.answer.property("warning")
    with qtbot.waitSignal(view.edit_wanted) as away:
        qtbot.mouseClick(form.away_button, Qt.MouseButton.LeftButton)
    assert targets_of(away.args[0].apply(after)).of("PCAN") is None


def test_a_row_of_targets_fills_the_form(view, grown):
    show(view, grown)
    rows = list(view.figures.target_table.rows)
    pine = next(place for place, row in enumerate(rows) if row["code"] == "PRAD")
    view.target_table.table.setCurrentIndex(view.target_table.model.index(pine, 0))
    assert view.form.code == "PRAD"
    assert view.form.dbh_cm.value() == 60.0
    assert view.form.product.text() == "pruned log"


def test_a_farm_without_trees_is_empty_and_paints(view, grown):
    bare = grown.with_tables(trees=grown.trees.iloc[:0], measurements=grown.measurements.iloc[:0])
    show(view, bare)
    assert tags(view) == []
    for place in range(len(PAGES)):
        view.show_page(place)
        painted(view)
    assert view.calendar.is_empty()
    assert view.curve.is_empty()


def test_it_is_no_wider_than_a_narrow_column(view, grown):
    show(view, grown, Chosen("tree", 1))
    assert view.minimumSizeHint().width() <= 28 * view.fontMetrics().height()


@pytest.mark.parametrize("chart", [CourseChart, CalendarChart, CurveChart])
def test_empty_charts_paint_their_words(qtbot, chart):
    made = chart("Nothing")
    qtbot.addWidget(made)
    made.resize(300, 200)
    assert made.is_empty()
    assert np.asarray(painted(made).constBits()).any()
