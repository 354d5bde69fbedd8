"""Products in the window: the rate is asked for, a price is written into the file, and all of it is taken back."""

from __future__ import annotations

import pytest

from farmmap.files.farm_file import read_farm, write_farm
from farmmap.panels.products.shown import HARVEST
from farmmap.panels.products.view import OWN_PRODUCTS
from tests.conftest import small_farm
from tests.plans.harvest.grown import grow_evenly, planted, priced, with_rows

WAIT_MS = 20_000


@pytest.fixture
def farm_path(tmp_path, monkeypatch):
    grow_evenly(monkeypatch)
    trees = planted(small_farm(), [55.0, 47.0, 34.0], [25.0, 24.0, 20.0], ["TOTA", "TOTA", "REDW"])
    path = tmp_path / "priced.gpkg"
    write_farm(with_rows(priced(trees), "targets", species=[""], dbh_cm=[50.0]), path)
    return path


@pytest.fixture
def page(opened, settle):
    found = opened.panels.page("Products")
    opened.panels.setCurrentWidget(found)
    settle(opened)
    return found


def _present_value(page) -> float:
    table = page.view.figures.model.table
    assert table.name == "harvest"
    return sum(row["present_value"] or 0.0 for row in table.rows)


def test_rate_price_and_undo(qtbot, opened, settle, page, farm_path) -> None:
    view = page.view
    view.choose(HARVEST)
    settle(opened)
    at_five = _present_value(page)
    page.fields["rate_percent"].setValue(0.0)
    settle(opened)
    assert _present_value(page) > at_five > 0
    view.choose(OWN_PRODUCTS)
    form = view.products
    form.lines.setCurrentRow(1)
    form.fields["price"].setText("7.5")
    form.change_button.click()
    qtbot.waitUntil(lambda: opened.session.farm.tables["products"]["price"].iloc[1] == 7.5, timeout=WAIT_MS)
    settle(opened)
    qtbot.waitUntil(lambda: read_farm(farm_path).tables["products"]["price"].iloc[1] == 7.5, timeout=WAIT_MS)
    assert form.lines.item(1).text().endswith("7.5 a piece")
    opened.undo()
    qtbot.waitUntil(lambda: bool(opened.session.farm.tables["products"]["price"].isna().iloc[1]), timeout=WAIT_MS)
    settle(opened)
    assert form.lines.item(1).text().endswith("no price")


def test_the_rate_is_asked_for_when_the_farm_was_there_first(qtbot, opened, page) -> None:
    """A farm named on the command line is often read before the panels are found."""
    from farmmap.window.panel_page import PanelPage

    late = PanelPage(page.panel, opened.session, opened.jobs)
    qtbot.addWidget(late)
    assert list(late.fields) == ["rate_percent"]
