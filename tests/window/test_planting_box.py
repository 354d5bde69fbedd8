"""Parts of the planting box: plants and rules of the grower's own, prices, the calendar, and room for all words."""

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QComboBox, QLabel, QPushButton

from farmmap.errors import FarmmapError
from farmmap.plans.planting.keeping.kept import kept_plans
from farmmap.plans.planting.recipes.recipe import Share
from farmmap.window.tools.planting.compare import draft_of
from farmmap.window.tools.planting.draft import Draft
from farmmap.window.tools.planting.fields import ARROW_PX, MOST_SHOWN
from farmmap.window.tools.planting.plain_sections import months_as_typed, months_of
from tests.window.planter import answered, left_bank, taken_up
from tests.window.tool_hand import LEFT

RULES = """rule_set,place,source,year,datum,purpose,condition,channel_m,slope_deg,slope_percent,stream_order,width_m
Our catchment group,Sedge valley,minutes of the group,2025,bank,,,up to 3,,,,7
Our catchment group,Sedge valley,minutes of the group,2025,bank,,,over 3,,,,12
"""


@pytest.fixture
def hand(qtbot, opened, settle):
    return taken_up(qtbot, opened, settle)


@pytest.fixture
def planned(hand):
    """A planting of the left bank from 40 m to 140 m, 8 m wide."""
    return left_bank(hand)


def own_names(hand):
    return [kind.name for kind in hand.live.draft.recipe.plants]


def own_plant(hand, name):
    """Add a plant of the grower's own by a click, and type its name."""
    part = hand.box.own_plants
    hand.open(part)
    hand.push(part.add)
    assert part.form.fields["name"].hasFocus()
    QTest.keyClicks(part.form.fields["name"], name)
    QTest.keyClick(part.form.fields["name"], Qt.Key.Key_Tab)
    return part


def test_a_plant_of_ones_own_is_named_grows_and_is_taken_away(planned):
    hand = planned
    part = own_plant(hand, "stream daisy")
    assert own_names(hand) == ["purple osier", "stream daisy"], "the recipe brings one along itself"
    assert "General growth of a tree" in part.growth_note.text()
    hand.choose(part.form.fields["form"], "shrub")
    hand.push(part.more)
    assert len(part.growth.rows) == 4
    hand.write(part.growth.rows[3][1], "4.5")
    kind = hand.live.draft.recipe.plants[1]
    assert (kind.form, kind.crown_m[3], kind.source) == ("shrub", 4.5, "my own figures")

    hand.open(hand.box.zones)
    mix = hand.box.zones.mix
    assert mix.species[0].findText("stream daisy") == 1, "one's own come first"
    hand.choose(mix.species[0], "stream daisy")
    hand.settle()
    assert hand.live.trouble == ""
    assert "stream daisy" in {kin.species for _, kin in hand.plan.kinds}
    assert hand.live.worked.kinds.find("stream daisy").crown_m[3] == 4.5

    hand.open(part)
    hand.write(part.form.fields["name"], "river daisy")
    QTest.keyClick(part.form.fields["name"], Qt.Key.Key_Tab)
    hand.settle()
    assert hand.live.draft.recipe.zones[0].mix[0].species == "river daisy", "the mix goes by its new name"
    assert hand.live.trouble == ""

    hand.write(part.growth.rows[1][0], "0.5")
    assert "must rise from line to line" in hand.box.trouble.text()
    assert not hand.box.keep.isEnabled()
    hand.write(part.growth.rows[1][0], "5")
    hand.push(part.remove)
    hand.settle()
    assert "no plant called river daisy" in hand.live.trouble


def test_plants_of_ones_own_have_names_of_their_own(planned):
    hand = planned
    part = own_plant(hand, "stream daisy")
    own_plant(hand, "Stream Daisy")
    assert "already" in part.answer.text()
    assert own_names(hand)[1:] == ["stream daisy", "Own plant 1"]
    hand.write(part.form.fields["name"], " ")
    QTest.keyClick(part.form.fields["name"], Qt.Key.Key_Tab)
    assert part.answer.text() == "Give the plant a name."
    part.list.setFocus()
    QTest.keyClick(part.list, Qt.Key.Key_Up)
    assert part.form.fields["name"].text() == "stream daisy"


def test_a_kind_has_a_price_of_its_own(planned):
    hand = planned
    hand.open(hand.box.costs)
    word = hand.live.draft.recipe.zones[0].mix[0].species
    hand.settle()
    before = hand.live.worked.costs.of_kind("plants").total_cents or 0
    field = hand.box.costs.prices.form.fields[word]
    assert field.placeholderText() == "as its stock"
    hand.write(field, "250")
    hand.settle()
    assert hand.live.draft.recipe.prices == {word: 250.0}
    assert hand.live.worked.costs.of_kind("plants").total_cents > before
    hand.write(hand.box.costs.money.fields["currency"], "NZ$")
    labels = [label.text() for label in hand.box.costs.prices.findChildren(QLabel)]
    assert "NZ$" in labels
    field.selectAll()
    QTest.keyClick(field, Qt.Key.Key_Delete)
    hand.settle()
    assert hand.live.draft.recipe.prices == {}


def test_shares_beyond_the_whole_are_told(planned):
    hand = planned
    hand.open(hand.box.costs)
    fields = hand.box.costs.shares.fields
    hand.write(fields["fence:grant_percent"], "80")
    hand.write(fields["fence:in_kind_percent"], "30")
    assert hand.live.draft.recipe.shares["fence"] == Share(80.0, 30.0)
    assert hand.box.trouble.text() == "Grant and in kind pay 110 % of fence; together they may pay 100 %."
    hand.write(fields["fence:in_kind_percent"], "20")
    hand.settle()
    assert hand.live.trouble == ""


def test_rules_of_ones_own_go_with_the_plan_that_names_them(planned, opened, monkeypatch, tmp_path):
    hand = planned
    path = tmp_path / "margin_rules.csv"
    path.write_text(RULES, encoding="utf-8")
    hand.open(hand.box.width_part)
    answered(monkeypatch, path)
    hand.push(hand.box.width_part.own)
    hand.settle()
    assert hand.words.startswith("1 rule of your own can be chosen now")
    rule = hand.box.width_part.rules[0]
    hand.choose(rule.kind, "by a rule from a list")
    assert rule.rule.currentText() == "Our catchment group (your own)"
    hand.settle()
    assert hand.live.trouble == ""
    assert "minutes of the group" in rule.guide.text()
    assert hand.live.worked.width_m["left"] == pytest.approx(7.0, abs=0.05), "the creek is 2 m wide"

    hand.write(hand.box.name, "By our rule")
    hand.settle()
    hand.push(hand.box.keep)
    farm = hand.wait_for_edit()
    path.unlink()
    hand.box.width_part._own.clear()  # as in a new window
    hand.choose(rule.kind, "the same everywhere")
    assert hand.live.draft.recipe.rule_sets == ()
    hand.open(hand.box.plans)
    hand.box.plans.list.setCurrentRow(0)
    hand.push(hand.box.plans.open_plan)
    hand.settle()
    assert hand.live.trouble == ""
    assert [one.name for one in hand.live.draft.recipe.rule_sets] == ["Our catchment group"]
    assert hand.live.worked.width_m["left"] == pytest.approx(7.0, abs=0.05)

    kept = kept_plans(farm)[0]
    begin = kept.recipe_text.index("[[rule]]")
    bare = replace(kept, recipe_text=kept.recipe_text[:begin])
    missing = draft_of(farm, bare, {})
    assert isinstance(missing, FarmmapError)
    assert "'Our catchment group' is no rule that farmmap or your own file knows" in str(missing)
    assert "open its file first" in str(missing)
    rules = {one.name: one for one in hand.live.draft.recipe.rule_sets}
    found = draft_of(farm, bare, rules)
    assert isinstance(found, Draft), "it is read once the rules are opened again"
    assert [one.name for one in found.recipe.rule_sets] == ["Our catchment group"]


def test_a_file_of_rules_that_cannot_be_used_is_told(planned, monkeypatch, tmp_path):
    hand = planned
    path = tmp_path / "margin_rules.csv"
    path.write_text(RULES.replace(",7\n", ",wide\n"), encoding="utf-8")
    hand.open(hand.box.width_part)
    answered(monkeypatch, path)
    hand.push(hand.box.width_part.own)
    hand.settle()
    assert "width_m is 'wide'" in hand.words
    assert hand.box.width_part.own_rules == {}


def test_the_calendar_follows_the_months_of_planting(planned):
    hand = planned
    hand.open(hand.box.orders)
    stock = hand.live.draft.recipe.zones[0].mix[0].stock
    hand.choose(hand.box.orders.which.fields["stock"], stock)
    hand.write(hand.box.orders.form.fields["months"], "July, aug")
    hand.settle()
    assert hand.live.draft.recipe.orders[stock].months == (7, 8)
    hand.open(hand.box.results)
    hand.settle()
    table = hand.box.results.months
    lines = [(table.item(row, 0).text(), table.item(row, 1).text()) for row in range(table.rowCount())]
    assert any(when.startswith("July") and what.startswith("Plant ") for when, what in lines)
    assert lines[0][1] == "Order the plants"
    assert any(what.startswith("Count what lives") for _, what in lines)


def test_months_are_read_by_name_and_number():
    assert months_of("Jun, july 8") == (6, 7, 8)
    assert months_of("ju") is None
    assert months_of("13") is None
    assert months_of("") == ()
    assert months_of(months_as_typed((11, 12, 1))) == (11, 12, 1)


def test_a_recipe_that_could_not_be_read_again_is_not_kept(planned):
    hand = planned
    hand.write(hand.box.name, "Odd")
    prices = {"no such plant": 2.0}
    hand.live.change(hand.live.draft.with_recipe(prices=prices))
    hand.settle()
    hand.push(hand.box.keep)
    hand.settle()
    assert "no such plant" in hand.words
    assert kept_plans(hand.file()) == ()


@pytest.mark.parametrize("size", [(1024, 640), (1300, 800)])
def test_nothing_is_cut_off(planned, opened, size):
    hand = planned
    opened.resize(*size)
    own_plant(hand, "stream daisy")
    hand.push(hand.box.own_plants.more)
    for section in hand.box.sections:
        hand.open(section)
        hand.settle()
        hand.qtbot.wait(20)
        scroll = hand.box._scroll
        assert scroll.widget().width() <= scroll.viewport().width(), (section.words, size)
        for field in section.findChildren(QComboBox):
            if field.isVisible() and not field.isEditable():
                metrics = field.fontMetrics()
                words = metrics.horizontalAdvance(field.currentText())
                if words <= metrics.averageCharWidth() * MOST_SHOWN:
                    assert field.width() >= words + ARROW_PX - 6, (section.words, field.currentText(), size)
        for button in section.findChildren(QPushButton):
            if button.isVisible():
                words = button.fontMetrics().horizontalAdvance(button.text().replace("&", ""))
                assert button.width() >= words + 12, (section.words, button.text(), size)


def test_a_section_is_folded_by_its_own_button(planned):
    hand = planned
    hand.open(hand.box.own_plants)
    hand.qtbot.mouseClick(hand.box.own_plants.button, LEFT)
    assert not hand.box.own_plants.is_open


def test_a_margin_wider_than_its_zones_is_told_in_the_foot(planned):
    hand = planned
    assert "bare" not in hand.box.sums.text()
    hand.open(hand.box.zones)
    while len(hand.live.draft.recipe.zones) > 1:
        hand.push(hand.box.zones.remove)
    hand.choose(hand.box.zones.form.fields["by"], "in metres")
    hand.write(hand.box.zones.form.fields["width_m"], "6")
    hand.settle()
    assert "on 0.06 ha" in hand.box.sums.text()
    assert "; 0.02 ha beyond the last zone left bare" in hand.box.sums.text(), "100 m of bank, 2 m of it bare"
    hand.open(hand.box.results)
    hand.settle()
    assert hand.box.results.figures.values["Left bare beyond the zones"].text() == "0.02 ha"


def test_what_is_handed_on_after_a_plan_was_accepted_is_named(planned):
    hand = planned
    plans = hand.box.plans
    assert plans.out.text() == "Hand on the plan in the box"
    hand.write(hand.box.name, "Lower Sedge")
    hand.push(hand.box.accept)
    hand.wait_for_edit()
    assert plans.out.text() == "Hand on Lower Sedge, accepted last"
    assert plans.order.isEnabled()
    hand.open(plans)
    plans.list.setFocus()
    plans.list.setCurrentRow(0)
    QTest.keyClick(plans.list, Qt.Key.Key_Space)
    assert not plans.compare.isEnabled(), "one plan alone has nothing beside it"
