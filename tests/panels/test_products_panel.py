"""The Products panel: its tables and chart, its forms that hand on edits, and the log calculator."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from PySide6.QtCore import QPointF

from farmmap.farm.edits import Edit
from farmmap.farm.farm import Farm
from farmmap.panels.products import PANEL, work_out
from farmmap.panels.products.harvest_stacks import MOST_SPECIES, OTHERS, harvest_stacks
from farmmap.panels.products.shown import HARVEST, TABLES
from farmmap.panels.products.stacked_chart import StackedChart
from farmmap.panels.products.view import CALCULATOR, OWN_EQUATION, OWN_PRODUCTS, OWN_VOLUMES, ProductsView
from farmmap.panels.registry import Options
from farmmap.scene.scene import Chosen
from farmmap.scene.symbols import species_symbols
from tests.plans.harvest.grown import ON, grow_evenly, planted, priced, with_rows

RATE = {"rate_percent": 5.0}


@pytest.fixture
def grown(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> Farm:
    grow_evenly(monkeypatch)
    trees = planted(farm, [55.0, 47.0, 34.0], [25.0, 24.0, 20.0], ["TOTA", "TOTA", "REDW"])
    return with_rows(priced(trees), "targets", species=[""], dbh_cm=[50.0])


class Hand:
    """Shows a farm in the panel and carries its edits out, as the window does."""

    def __init__(self, qtbot: object, farm: Farm) -> None:
        self.view = ProductsView(PANEL)
        qtbot.addWidget(self.view)
        self.edits: list[Edit] = []
        self.farm = farm
        self.view.edit_wanted.connect(self._carry_out)
        self.chosen: Chosen | None = None
        self.view.asks_anew.connect(lambda: self.show(self.chosen))
        self.show()
        self.view.resize(460, 800)
        self.view.show()

    def show(self, chosen: Chosen | None = None) -> None:
        self.chosen = chosen
        options = Options(ON, chosen, RATE, asked=self.view.asked())
        self.view.show_figures(self.farm, options, work_out(self.farm, options))

    def _carry_out(self, edit: Edit) -> None:
        self.edits.append(edit)
        self.farm = edit.apply(self.farm)
        self.show()


def test_every_entry_of_the_list_is_shown(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    seen = set()
    for place in range(hand.view.shown.count()):
        hand.view.shown.setCurrentIndex(place)
        if hand.view.shown.currentText() in TABLES:
            assert hand.view.chart.isHidden() == (hand.view.shown.currentText() != HARVEST)
        seen.add(hand.view.pages.currentWidget())
        hand.view.grab()
    assert len(seen) == 5
    assert hand.view.heading.text() == "All blocks: volumes and products"


def test_the_chosen_block_alone(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    hand.show(Chosen("block", 2))
    assert hand.view.heading.text() == "Far Slope: volumes and products"
    assert not len(hand.view.figures.model.table.rows)
    hand.show(Chosen("block", 1))
    assert len(hand.view.figures.model.table.rows) == 2


def test_tables_with_other_columns_follow_each_other(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    table = hand.view.figures
    hand.view.choose("Products in what stands")
    assert table.model.columns[0] == "sold_as"
    table.table.sortByColumn(3, table.table.horizontalHeader().sortIndicatorOrder())
    hand.view.choose("What stands, by block")
    assert table.model.columns[0] == "name"
    hand.view.choose("Carbon, by species")
    assert "carbon_t" in table.model.columns


def test_chart_tells_parts_in_words_and_marks(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    hand.view.choose(HARVEST)
    chart = hand.view.chart
    assert [stack.name for stack in chart.stacks] == ["2020–24", "2025–29"]
    assert {kind.name for kind in chart.kinds} == {"tōtara", "coast redwood"}
    assert len({kind.hatch for kind in chart.kinds}) == 2
    assert len({kind.letter for kind in chart.kinds}) == 2
    assert "2020–24" in chart.accessibleDescription()
    chart.grab()
    said = {chart.words_at(QPointF(x, y)) for x in range(0, chart.width(), 6) for y in range(0, chart.height(), 6)}
    assert any(words.startswith("2020–24: ") for words in said)


def test_a_bound_that_is_not_known_is_not_drawn_as_nought(qtbot) -> None:
    row = {"first_year": 2020, "code": "S", "species": "kind", "stem_volume_m3": 3.0, "stem_volume_low_m3": 1.0}
    stacks, kinds = harvest_stacks([row | {"stem_volume_high_m3": 5.0}, row | {"stem_volume_high_m3": None}], {})
    assert stacks[0].low == 2.0
    assert np.isnan(stacks[0].high)
    chart = StackedChart("Harvest", "Stem volume over bark, m³")
    qtbot.addWidget(chart)
    chart.show_stacks("Harvest", stacks, kinds, "Nothing")
    chart.resize(400, 300)
    chart.grab()
    said = {chart.words_at(QPointF(x, y)) for x in range(0, chart.width(), 6) for y in range(0, chart.height(), 6)}
    assert "2020–24: 6.0 m³; kind 6.0" in said


def test_many_species_share_a_part() -> None:
    rows = [
        {"first_year": 2020 + 10 * (n % 2), "code": f"S{n}", "species": f"kind {n}"}
        | {"stem_volume_m3": 1.0 + n, "stem_volume_low_m3": 1.0, "stem_volume_high_m3": 2.0 + n}
        for n in range(20)
    ]
    stacks, kinds = harvest_stacks(rows, {})
    assert len(kinds) == MOST_SPECIES + 1
    assert kinds[-1] is OTHERS
    assert [stack.name for stack in stacks] == ["2020–24", "2025–29", "2030–34"]
    assert stacks[1].parts == ()
    assert sum(stack.height for stack in stacks) == pytest.approx(sum(1.0 + n for n in range(20)))


def test_nothing_to_harvest_is_said(qtbot, farm: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    grow_evenly(monkeypatch)
    hand = Hand(qtbot, farm.with_tables(trees=farm.trees.iloc[:0], measurements=farm.measurements.iloc[:0]))
    hand.view.choose(HARVEST)
    assert hand.view.chart.is_empty()
    assert "set target diameters" in hand.view.chart.accessibleDescription()
    assert harvest_stacks([], species_symbols(farm)) == ([], [])


def test_a_price_is_set_and_taken_back(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    hand.view.choose(OWN_PRODUCTS)
    form = hand.view.products
    form.lines.setCurrentRow(1)
    assert form.fields["name"].text() == "post"
    assert form.fields["price"].text() == ""
    form.fields["price"].setText("7,5")
    form.change_button.click()
    assert [edit.name for edit in hand.edits] == ["Change price of product post"]
    assert form.row == 2
    assert form.lines.currentItem().text() == "post, 10 to 15 cm, 1.8 m, 7.5 a piece"
    hand.farm = hand.edits[-1].turned_round().apply(hand.farm)
    hand.show()
    assert form.lines.item(1).text().endswith("no price")


def test_a_product_is_added_chosen_and_taken_away(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    form = hand.view.products
    form.lines.setCurrentRow(0)
    form.fields["name"].setText("pole")
    form.fields["kind"].setCurrentIndex(form.fields["kind"].findData("pole"))
    form.add_button.click()
    assert hand.edits[-1].name == "Add product pole"
    assert form.row == 4
    form.remove_button.click()
    assert hand.edits[-1].name == "Take away product pole"
    assert form.lines.count() == 3


def test_what_cannot_be_is_answered_in_the_form(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    hand.view.choose(OWN_PRODUCTS)
    form = hand.view.products
    form.lines.setCurrentRow(0)
    form.fields["price"].setText("a lot")
    form.change_button.click()
    assert not hand.edits
    assert "price" in form.answer.text()
    assert form.answer.isVisible()


def test_general_products_start_an_empty_list(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown.with_tables(products=grown.tables["products"].iloc[:0]))
    hand.view.choose(OWN_PRODUCTS)
    form = hand.view.products
    assert form.general_button.isVisible()
    assert not form.change_button.isEnabled()
    form.general_button.click()
    assert hand.edits[-1].name == "Take over the general products"
    assert not form.general_button.isVisible()
    assert form.lines.count() == len(hand.farm.tables["products"]) > 3


def test_volume_fields_follow_their_kind(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    hand.view.choose(OWN_VOLUMES)
    form = hand.view.volumes
    kind = form.fields["kind"]
    kind.setCurrentIndex(kind.findData("power"))
    assert form.fields["b"].isVisible()
    assert not form.fields["volume_m3"].isVisible()
    form.fields["a"].setText("0.0000425")
    form.add_button.click()
    assert "b" in form.answer.text()
    form.fields["b"].setText("1.92")
    form.fields["c"].setText("0.98")
    form.add_button.click()
    assert form.lines.item(0).text() == "every species: 0.0000425 × diameter^1.92 × height^0.98"
    assert form.fields["a"].text() == "0.0000425"
    form.fields["a"].setText("0.0000430")
    form.change_button.click()
    assert hand.farm.tables["volumes"]["a"].tolist() == [0.000043]
    kind.setCurrentIndex(kind.findData("form factor"))
    assert not form.fields["b"].isVisible()
    form.fields["a"].setText("0.4")
    form.change_button.click()
    line = hand.farm.tables["volumes"].iloc[0]
    assert (line["kind"], line["a"]) == ("form factor", 0.4)
    assert line["b"] != line["b"]


def test_own_equation_goes_into_the_stem_volumes(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    hand.view.choose(OWN_EQUATION)
    page = hand.view.equation
    assert not page.take_button.isEnabled()
    page.text.setPlainText("30 20")
    assert page.answer.text().startswith("Line 1 is not diameter, height and volume")
    stems = [(10 + 4 * n, 9 + n + n % 3) for n in range(12)]
    page.text.setPlainText("\n".join(f"{d} {h} {4e-5 * d**1.9 * h**1.1:.8f}" for d, h in stems))
    assert "from 12 stems" in page.answer.text()
    page.species.setCurrentIndex(page.species.findData("TOTA"))
    page.take_button.click()
    line = hand.farm.tables["volumes"].iloc[0]
    assert (line["species"], line["kind"]) == ("TOTA", "power")
    assert (line["b"], line["c"]) == pytest.approx((1.9, 1.1), abs=1e-3)


def test_logs_are_worked_out_as_they_are_typed(qtbot, grown: Farm) -> None:
    hand = Hand(qtbot, grown)
    hand.view.choose(CALCULATOR)
    page = hand.view.calculator
    assert page.answer.text().startswith("Give a length")
    page.fields["length_m"].setText("6")
    page.fields["mid_cm"].setText("38")
    assert page.answer.text() == "Huber, from the middle: 0.6805 m³"
    page.fields["large_cm"].setText("45")
    page.fields["small_cm"].setText("32,0")
    assert [line.split(":")[1].strip() for line in page.answer.text().splitlines()] == [
        "0.6805 m³",
        "0.7184 m³",
        "0.6931 m³",
    ]
    page.fields["bark_cm"].setText("2")
    assert "under bark" in page.answer.text()
    page.fields["logs"].setText("two")
    assert page.fields["logs"].property("bad")
    assert page.trouble.text() == "Logs of that size: 'two' is no number; write it such as 42.5."
    page.fields["logs"].setText("2")
    assert page.trouble.isHidden()


def test_work_out_is_for_the_day_and_the_block(grown: Farm) -> None:
    table = work_out(grown, Options(dt.date(2020, 7, 1), None, RATE))
    assert table.title == "Small Pipit: what stands, by species, 2020-07-01"
