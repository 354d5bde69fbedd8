"""Plans that are kept: compared, opened again, printed, marked as planted and made good."""

import csv
import datetime as dt

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from farmmap.plans.planting.keeping.accept import plan_planted
from farmmap.plans.planting.keeping.kept import kept_plans
from farmmap.window.printing.dialog import PrintDialog
from farmmap.window.tools.planting.compare import CompareDialog
from farmmap.window.tools.planting.gaps import GapsDialog
from farmmap.window.tools.planting.planted import CountsDialog
from tests.window.planter import answered, left_bank, taken_up
from tests.window.tool_hand import LEFT, WAIT_MS


@pytest.fixture
def hand(qtbot, opened, settle):
    return taken_up(qtbot, opened, settle)


@pytest.fixture
def planned(hand):
    """A planting of the left bank from 40 m to 140 m, 8 m wide."""
    return left_bank(hand)


def test_plans_are_kept_compared_opened_and_taken_back(planned, opened, dialog_of):
    hand = planned
    hand.write(hand.box.name, "Narrow")
    hand.push(hand.box.keep)
    hand.wait_for_edit()
    hand.open(hand.box.width_part)
    hand.write(hand.box.width_part.rules[0].same, "11")
    hand.write(hand.box.name, "Wide")
    hand.settle()
    hand.push(hand.box.keep)
    hand.wait_for_edit()
    assert [one.name for one in kept_plans(hand.file())] == ["Narrow", "Wide"]
    hand.open(hand.box.plans)
    plans = hand.box.plans
    plans.list.setFocus()
    for row in (0, 1):
        plans.list.setCurrentRow(row)
        QTest.keyClick(plans.list, Qt.Key.Key_Space)
    assert [plan.name for plan in plans.ticked] == ["Narrow", "Wide"]
    hand.push(plans.compare)
    dialog = dialog_of(opened, CompareDialog)
    hand.qtbot.waitUntil(lambda: dialog.table.columnCount() == 2, timeout=WAIT_MS)
    table = dialog.table
    heads = [table.verticalHeaderItem(row).text() for row in range(table.rowCount())]
    areas = [
        float(table.item(heads.index("Ground of the zones"), column).text().removesuffix(" ha")) for column in range(2)
    ]
    assert areas == [pytest.approx(0.08, abs=0.003), pytest.approx(0.11, abs=0.003)]
    assert "Cover after 20 years" in heads
    dialog.close()
    plans.list.setCurrentRow(0)
    hand.push(plans.open_plan)
    hand.settle()
    assert (hand.live.draft.name, hand.live.draft.width_m) == ("Narrow", 8.0)
    hand.push(plans.back)
    hand.wait_for_edit()
    assert [one.name for one in kept_plans(hand.file())] == ["Wide"]


def test_a_plan_is_marked_as_planted_with_what_was_planted(planned, opened, dialog_of):
    hand = planned
    hand.write(hand.box.name, "Lower Sedge")
    hand.push(hand.box.accept)
    hand.wait_for_edit()
    hand.open(hand.box.plans)
    plans = hand.box.plans
    plans.list.setFocus()
    QTest.keyClick(plans.list, Qt.Key.Key_Down)
    plans.list.setCurrentRow(0)
    hand.push(plans.planted)
    dialog = dialog_of(opened, CountsDialog)
    code, field = next(iter(dialog.fields.items()))
    all_of_it = int(field.value)
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, str(all_of_it + 1))
    assert not dialog.yes.isEnabled()
    assert "may be 0 to" in dialog.answer.text()
    field.selectAll()
    QTest.keyClicks(field, str(all_of_it - 3))
    hand.qtbot.mouseClick(dialog.yes, LEFT)
    hand.wait_for_edit()
    mine = hand.file().trees
    mine = mine[mine["plan"] == "Lower Sedge"]
    assert ((mine["species"] == code) & (mine["stage"] == "planned")).sum() == 3
    standing = mine[mine["stage"] == "existing"]
    assert (standing["planted"] == dt.datetime.now().astimezone().date().isoformat()).all()
    assert kept_plans(hand.file())[0].state == "planted"
    assert opened.session.on == dt.datetime.now().astimezone().date(), "the day is shown on which they stand there"


def test_the_dead_are_replaced_from_a_count(planned, opened, dialog_of, monkeypatch, tmp_path):
    hand = planned
    hand.write(hand.box.name, "Lower Sedge")
    hand.push(hand.box.accept)
    hand.wait_for_edit()
    opened.bench.propose(lambda farm: plan_planted(farm, "Lower Sedge", dt.date(2020, 7, 1)))
    hand.wait_for_edit()
    hand.open(hand.box.plans)
    hand.box.plans.list.setCurrentRow(0)
    hand.push(hand.box.plans.gapping)
    dialog = dialog_of(opened, CountsDialog)
    code, field = next(iter(dialog.fields.items()))
    planted = int(field.value)
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, str(planted - 5))
    assert dialog.target.isVisible()
    assert not dialog.date.isVisible(), "no day is asked, as none is used"
    hand.qtbot.mouseClick(dialog.yes, LEFT)
    found = dialog_of(opened, GapsDialog)
    again = sum(int(found.table.item(row, 4).text()) for row in range(found.table.rowCount()))
    assert again == 5, code
    path = tmp_path / "order again.csv"
    answered(monkeypatch, path)
    hand.qtbot.mouseClick(found.order, LEFT)
    hand.settle()
    assert found.answer.text() == "Written: order again.csv."
    with path.open(encoding="utf-8-sig", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert sum(int(row["to_replace"]) for row in rows) == 5
    assert {row["species"] for row in rows if int(row["to_replace"])} == {code}
    assert sum(int(row["to_order"]) for row in rows) >= 5
    found.close()


def opened_again(hand, name="Lower Sedge"):
    """Choose a plan of the farm in the list, and open it in the box."""
    hand.open(hand.box.plans)
    plans = hand.box.plans.list
    plans.setCurrentRow([plan.name for plan in hand.box.plans._plans].index(name))
    hand.push(hand.box.plans.open_plan)
    hand.settle()
    assert hand.live.draft.name == name


def fence_m(hand):
    return sum(fence.length_m for fence in hand.plan.fences)


def same_places(hand, x, y):
    assert hand.live.trouble == ""
    np.testing.assert_allclose(hand.plan.plants.x, x, atol=1e-6)
    np.testing.assert_allclose(hand.plan.plants.y, y, atol=1e-6)


def test_an_accepted_and_a_planted_plan_open_again_at_the_same_places(planned, opened):
    hand = planned
    hand.write(hand.box.name, "Lower Sedge")
    hand.settle()
    x, y, most_m = hand.plan.plants.x, hand.plan.plants.y, fence_m(hand)
    assert len(x) > 100
    assert most_m > 30
    hand.push(hand.box.accept)
    hand.wait_for_edit()
    opened_again(hand)
    same_places(hand, x, y)
    assert fence_m(hand) == pytest.approx(most_m)
    opened.bench.propose(lambda farm: plan_planted(farm, "Lower Sedge", dt.date(2020, 7, 1)))
    hand.wait_for_edit()
    hand.settle()
    same_places(hand, x, y)
    hand.write(hand.box.name, "Another")
    hand.settle()
    assert fence_m(hand) < most_m / 2, "for another plan the fence that stands there is a fence already"
    hand.write(hand.box.name, "Lower Sedge")
    hand.settle()
    same_places(hand, x, y)
    assert fence_m(hand) == pytest.approx(most_m)


def test_what_is_kept_is_exact_even_before_the_rest(planned):
    hand = planned
    seen = []
    hand.live.worked_out.connect(lambda: seen.append(hand.live.worked.is_exact))
    hand.write(hand.box.width_part.rules[0].same, "9")
    kept = []
    hand.live.when_ready("note", lambda worked: kept.append((worked.is_exact, worked.draft.width_m)))
    hand.settle()
    assert kept == [(True, 9.0)]
    assert hand.live.worked.is_exact
    assert hand.live.outlook.is_exact
    hand.write(hand.box.width_part.rules[0].same, "8.5")
    hand.settle()
    assert seen[-2:] == [False, True], "quickly while it is typed, exactly at rest"
    assert hand.plan.area_m2 == pytest.approx(100 * 8.5, rel=0.02)


def test_the_plan_in_the_box_goes_out_as_a_page(planned, monkeypatch, tmp_path):
    hand = planned
    path = tmp_path / "page.pdf"
    hand.open(hand.box.plans)
    assert not hand.box.plans.print.isEnabled(), "no plan is kept yet"
    answered(monkeypatch, path)
    hand.push(hand.box.plans.map)
    hand.settle()
    hand.qtbot.waitUntil(path.is_file, timeout=WAIT_MS)
    assert path.read_bytes().startswith(b"%PDF")
    assert hand.words == "Written: page.pdf."


def test_a_kept_plan_is_printed_from_the_list(planned, opened, dialog_of):
    hand = planned
    hand.write(hand.box.name, "Lower Sedge")
    hand.push(hand.box.keep)
    hand.wait_for_edit()
    hand.open(hand.box.plans)
    hand.box.plans.list.setCurrentRow(0)
    hand.push(hand.box.plans.print)
    dialog = dialog_of(opened, PrintDialog)
    assert dialog.form.which.currentText() == "Lower Sedge"
    assert dialog.form.title.placeholderText() == "Lower Sedge"
    hand.qtbot.waitUntil(lambda: dialog.is_up_to_date, timeout=WAIT_MS)
    dialog.reject()
