"""A farm's page says which blocks are sampled, however short its room."""

from __future__ import annotations

import datetime as dt

from farmmap.scene.page_items import Text
from farmmap.sheets.sheet import SheetOptions, compose
from tests.conftest import small_farm
from tests.figures.sampling.test_sampled_blocks import sampled_farm

ON = dt.date(2021, 1, 1)


def said(farm):
    sheet = compose(farm, ON, SheetOptions(printed_on=ON))
    return " ".join(item.text for box in sheet.plan.boxes for item in box.items if isinstance(item, Text))


def test_sampled_blocks_are_marked_and_explained():
    words = said(sampled_farm())
    assert "4 plots, ±" in words
    assert "estimates from sample plots" in words
    assert "sample plot" in words


def test_without_plots_nothing_is_said_of_them():
    assert "plots" not in said(small_farm())
