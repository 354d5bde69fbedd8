"""While a planting is changed about-figures are shown at once, the exact ones replace them, and nothing is lost."""

import threading
from dataclasses import replace

import pytest

from farmmap.errors import BadInput
from farmmap.plans.planting.recipes.recipe import StockOrder
from farmmap.window.tools.planting import live, workings
from tests.place import EAST, NORTH
from tests.window.planter import left_bank, taken_up
from tests.window.tool_hand import LEFT, NONE, WAIT_MS


@pytest.fixture
def planned(qtbot, opened, settle):
    """A planting of the left bank from 40 m to 140 m, 8 m wide."""
    return left_bank(taken_up(qtbot, opened, settle))


@pytest.fixture
def gate(monkeypatch):
    """Whole plans wait here until it is opened; those that were worked out are noted with their widths.

    Each is taken for one that takes long.
    """
    monkeypatch.setattr(live, "SOON_S", -1.0)
    gate, done, work_out = threading.Event(), [], workings.work_out

    def waits(farm, draft, heights, **how):
        assert gate.wait(WAIT_MS / 1000)
        done.append((draft.width_m, how["quick"]))
        return work_out(farm, draft, heights, **how)

    monkeypatch.setattr(workings, "work_out", waits)
    gate.done = done
    yield gate
    gate.set()


def sketched(hand, width_m):
    """Wait until the ground of a width is shown."""
    hand.qtbot.waitUntil(lambda: hand.live.sketch is not None and hand.live.sketch.draft.width_m == width_m, timeout=WAIT_MS)  # fmt: skip


def widened(hand, width_m):
    hand.live.change(hand.live.draft.with_width(width_m))


def test_about_figures_come_first_in_the_places_of_the_exact_ones(planned, gate):
    hand = planned
    hand.open(hand.box.results)
    before, picture = hand.live.worked, hand.map.grab().toImage()
    hand.qtbot.wait(50)
    widened(hand, 12.0)
    sketched(hand, 12.0)
    about, places = hand.live.sketch.about, dict(hand.box.results.figures.values)
    assert hand.live.worked is before, "the whole plan is still on its way"
    assert hand.box.sums.text().startswith("About ")
    assert hand.box.sums.accessibleName() == hand.box.sums.text()
    assert places["Plants"].text().startswith("about ")
    assert places["Fence"].text() == places["Cost"].text() == "…", "the fence that stands may not serve the new width"
    assert places["Gates"].text() == "…", "what is not known yet is not made up"
    tables = hand.box.results.orders, hand.box.results.costs, hand.box.results.change
    assert not any(table.isEnabled() for table in tables), "tables of the last plan are grey"
    assert hand.live.sketch.width_m["left"] == pytest.approx(12.0, abs=0.05)
    assert hand.map.grab().toImage() != picture
    gate.set()
    hand.settle()
    exact = hand.live.worked
    assert hand.live.sketch is None
    assert exact.is_exact
    assert about.plants == pytest.approx(len(exact.plan.plants), rel=0.06)
    assert about.plan.area_m2 == pytest.approx(exact.plan.area_m2, rel=0.002)
    assert about.costs is None
    assert "bout" not in hand.box.sums.text()
    assert hand.box.results.figures.values == places, "the same labels say it"
    assert all(table.isEnabled() for table in tables)
    assert not [name for name, label in places.items() if "about" in label.text() or label.text() == "…"]


def test_what_is_shown_never_goes_back(planned, gate):
    hand = planned
    shown = []
    for signal in (hand.live.sketched, hand.live.worked_out):
        signal.connect(lambda: shown.append(hand.live.shown.draft.width_m))
    for width_m in (9.0, 10.0, 11.0, 12.0):
        widened(hand, width_m)
        if width_m != 11.0:
            sketched(hand, width_m)
    gate.set()
    hand.settle()
    assert shown == sorted(shown), "a plan of a width that was passed over is not shown after a newer ground"
    assert hand.live.worked.draft.width_m == 12.0
    assert gate.done[-1] == (12.0, False), "at rest it is exact"
    assert [width for width, _ in gate.done].count(11.0) == 0, "what was passed over was never worked out"


def test_a_plan_that_is_soon_there_needs_no_sketch_before_it(planned, monkeypatch):
    hand, sketches = planned, []
    hand.live.sketched.connect(lambda: sketches.append(hand.live.sketch))
    monkeypatch.setattr(live, "SOON_S", 1e9)
    widened(hand, 12.0)
    hand.settle()
    assert not sketches
    assert hand.live.worked.draft.width_m == 12.0
    monkeypatch.setattr(live, "SOON_S", -1.0)
    widened(hand, 10.0)
    hand.settle()
    assert sketches
    assert hand.live.worked.draft.width_m == 10.0


def test_there_and_back_again_ends_with_the_plan(planned, gate):
    hand = planned
    widened(hand, 12.0)
    widened(hand, 8.0)
    gate.set()
    hand.settle()
    assert hand.live.sketch is None
    assert hand.live.worked.draft.width_m == hand.live.worked.plan.recipe.widths[0].width_m == 8.0
    assert hand.live.worked.is_exact


def test_who_waits_for_the_plan_gets_the_exact_one_of_the_last_width(planned, gate, monkeypatch):
    hand, given, sketch_out = planned, [], workings.sketch_out
    begun = threading.Event()

    def refuses(farm, draft, *rest):
        if draft.width_m == 9.0:
            begun.set()
            assert gate.wait(WAIT_MS / 1000)
            raise BadInput("nine is refused")
        return sketch_out(farm, draft, *rest)

    monkeypatch.setattr(workings, "sketch_out", refuses)
    widened(hand, 9.0)
    assert begun.wait(WAIT_MS / 1000)
    widened(hand, 11.0)
    hand.live.when_ready("give", given.append)
    gate.set()
    hand.qtbot.waitUntil(lambda: bool(given), timeout=WAIT_MS)
    hand.settle()
    assert [(one.draft.width_m, one.is_exact) for one in given] == [(11.0, True)]
    assert hand.live.trouble == "", "what is wrong with an older draft is not told of the newer one"


def test_a_width_that_cannot_be_takes_its_ground_away_again(planned):
    hand = planned
    before = hand.live.worked
    hand.live.change(hand.live.draft.with_zone(0, share=None, width_m=40.0))
    hand.settle()
    assert "wide" in hand.live.trouble
    assert hand.live.sketch is None
    assert hand.live.shown is before


def test_what_plants_cost_does_not_move_them(planned, monkeypatch):
    hand = planned
    before = hand.live.worked
    monkeypatch.setattr("farmmap.plans.planting.make.make_plan", None)  # it may not be asked
    stock = hand.live.draft.recipe.zones[0].mix[0].stock
    orders = {**hand.live.draft.recipe.orders, stock: StockOrder(lost_percent=50.0, price=1000.0)}
    hand.live.change(hand.live.draft.with_recipe(orders=orders))
    hand.settle()
    now = hand.live.worked
    assert now.plan.plants is before.plan.plants
    assert now.plan.recipe.orders == orders
    assert now.costs.total_cents > before.costs.total_cents
    assert now.is_exact


def test_a_handle_follows_the_mouse_before_the_plan_does(planned, gate):
    hand = planned
    grip = next(one for one in hand.live.shown.grips if one.name == "left")
    start = grip.x - EAST, grip.y - NORTH
    hand.press(start)
    for step in range(1, 9):
        hand._move(hand.at(start[0], start[1] + step * 0.5), LEFT, NONE)
    wanted = hand.live.draft.width_m
    sketched(hand, wanted)
    assert next(one for one in hand.live.shown.grips if one.name == "left").y > grip.y
    hand.qtbot.mouseRelease(hand.map, LEFT, NONE, hand.at(start[0], start[1] + 4.0))
    gate.set()
    hand.settle()
    assert hand.live.worked.draft.width_m == wanted


def test_the_fence_of_the_other_bank_is_not_made_up(planned, gate):
    hand = planned
    hand.live.change(replace(hand.live.draft, from_m=60.0))
    hand.qtbot.waitUntil(lambda: hand.live.sketch is not None, timeout=WAIT_MS)
    assert hand.live.sketch.about.costs is not None, "the fence is about as long as the bank"
    hand.live.change(replace(hand.live.draft, banks=("right",)))
    hand.qtbot.waitUntil(lambda: hand.live.sketch.draft.banks == ("right",), timeout=WAIT_MS)
    assert hand.live.sketch.about.costs is None
    assert "cost" not in hand.box.sums.text()
    gate.set()
    hand.settle()
    assert "fence" in hand.box.sums.text()


def test_who_waits_is_let_go_when_there_is_nothing_to_work_out(planned, gate):
    hand, given = planned, []
    draft = hand.live.draft
    widened(hand, 9.0)
    hand.live.when_ready("give", given.append)
    hand.live.change(replace(draft, creek=""))
    gate.set()
    hand.settle()
    assert hand.live.shown is None
    hand.live.change(draft)
    hand.settle()
    assert hand.live.worked.is_exact
    assert given == [], "what was asked of one planting is not done with the next"


def test_about_figures_are_those_of_the_same_creek_and_plants(planned):
    hand = planned
    last, outlook = hand.live.worked, hand.live.outlook
    wider = last.draft.with_width(last.draft.width_m + 1.0)

    def sketched_out(draft, last):
        return workings.sketch_out(last.farm, draft, last.heights, last, outlook)

    same = sketched_out(wider, last)
    assert [year for year, _ in same.about.cover] == list(outlook.cover.years)
    assert same.picture.x is last.picture.x, "its plants stay shown"
    elsewhere = sketched_out(wider, replace(last, draft=replace(last.draft, creek="Alder Brook")))
    assert elsewhere.about.cover == ()
    assert not len(elsewhere.picture.x)
    closer = sketched_out(wider.with_zone(0, between_m=wider.recipe.zones[0].between_m / 2), last)
    assert closer.about.cover == (), "what is planted closer comes under crowns sooner"


def test_the_key_tells_the_signs_of_the_plans_fence_while_it_is_planned(planned):
    key = planned.window.key_view

    def told():
        return {words.removeprefix("/"): label.text() for words, label in key._counts.items() if words[0] == "/"}

    fences = planned.plan.fences
    assert {"new fence", "strainer post"} <= set(told())
    for sign, places in (("gate", "gates"), ("floodgate", "floodgates"), ("trough", "troughs")):
        count = sum(len(getattr(fence, places)) for fence in fences)
        assert told().get(sign, "0") == str(count)
    recipe = planned.live.draft.recipe
    planned.live.change(planned.live.draft.with_recipe(fence=replace(recipe.fence, wanted=False)))
    planned.settle()
    assert told() == {}
    planned.live.change(planned.live.draft.with_recipe(fence=recipe.fence))
    planned.settle()
    assert "new fence" in told()
    planned.take("Pick")
    assert told() == {}
    assert "blocks" in key.ticks
