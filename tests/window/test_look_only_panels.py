"""Panels of a farm that may only be looked at offer nothing that would change it, and offer it once it may be."""

import pytest

from farmmap.figures.sampling.zones import CIRCLE, PlotShape
from farmmap.plans.sampling.layout import Layout, plots_laid_out
from farmmap.scene.scene import Chosen

WAIT_MS = 30_000
WHY = "It is open on another computer."
STEMS = "42 24 1.38\n30 20 0.6\n25 18 0.4\n50 26 2.0\n35 22 0.9\n60 28 3.0\n20 15 0.22\n45 25 1.6"


@pytest.fixture
def farm(farm):
    """Two plots lie in the first block."""
    return plots_laid_out(farm, [1], Layout(plots=2, shape=PlotShape(CIRCLE, 8.0))).edit.apply(farm)


def growth(view):
    return [view.form.set_button, view.form.species]


def thinning(view):
    view.proposal.setChecked(True)
    return [view.put_button]


def pruning(view):
    return [view.lifts.keep, view.lifts.add_lift]


def products(view):
    view.equation.text.setPlainText(STEMS)
    return [view.products.add_button, view.volumes.add_button, view.equation.take_button]


def plots(view):
    count = view.count
    return [view.lay_out, count.add, count.dbh, count.none_there, count.take_away, count.more]


@pytest.mark.parametrize("parts_of", [growth, thinning, pruning, products, plots], ids=lambda one: one.__name__)
def test_what_changes_the_farm_is_offered_only_where_it_may_be_changed(qtbot, opened, settle, parts_of):
    opened.session.choose(Chosen("block", 1))
    page = opened.panels.page(parts_of.__name__.capitalize())
    opened.session.only_look(WHY)
    opened.panels.setCurrentWidget(page)
    settle(opened)
    parts = parts_of(page.view)
    settle(opened)
    assert [part.isEnabled() for part in parts] == [False] * len(parts)
    opened.session.only_look("")
    assert [part.isEnabled() for part in parts] == [True] * len(parts)


def test_a_counted_tree_stays_while_the_farm_may_only_be_looked_at(qtbot, opened, settle):
    opened.session.choose(Chosen("block", 1))
    page = opened.panels.page("Plots")
    opened.panels.setCurrentWidget(page)
    settle(opened)
    count = page.view.count
    count.dbh.setText("30")
    count.count()
    qtbot.waitUntil(lambda: len(opened.session.farm.plot_trees) == 1, timeout=WAIT_MS)
    settle(opened)
    opened.session.only_look(WHY)
    count.table.taken_away.emit(1)
    assert count.table.rowCount() == 1
