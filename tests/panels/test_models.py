"""Tables of figures: sorting with what is not known last, words, and the list of trees."""

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import Qt

from farmmap.figures.blocks import block_figures
from farmmap.panels.figure_model import FigureModel, sorted_places
from farmmap.panels.trees.tree_list import TreeList
from farmmap.panels.working_view import working_in_words

NUMBERS = st.one_of(st.none(), st.floats(allow_nan=True, allow_infinity=False), st.integers(-5, 5))


@given(st.lists(NUMBERS), st.booleans())
def test_what_is_not_known_comes_last_either_way(values, falling):
    placed = [values[place] for place in sorted_places(values, falling)]
    known = [value for value in placed if value is not None and not math.isnan(value)]
    assert placed[: len(known)] == known
    assert known == sorted(known, reverse=falling)
    assert sorted(sorted_places(values, falling)) == list(range(len(values)))


def test_words_are_sorted_without_case():
    assert sorted_places(["b", "A", "", "c"], False) == [1, 0, 3, 2]


@pytest.fixture
def model(qapp, farm, day, qtmodeltester):
    made = FigureModel()
    made.show_table(block_figures(farm, day))
    qtmodeltester.check(made)
    return made


def test_the_table_reads_as_people_write(model):
    name, stems = model.columns.index("name"), model.columns.index("stems")
    assert model.data(model.index(0, name)) == "North Terrace"
    assert model.headerData(stems, Qt.Orientation.Horizontal) == "Stems"
    assert (
        "hectare"
        in model.data(model.index(0, model.columns.index("stems_per_ha")), Qt.ItemDataRole.ToolTipRole).lower()
    )
    assert model.data(model.index(0, stems), Qt.ItemDataRole.TextAlignmentRole) & Qt.AlignmentFlag.AlignRight


def test_rows_stand_for_the_same_features_after_sorting(model, farm, day):
    model.sort(model.columns.index("name"), Qt.SortOrder.AscendingOrder)
    assert [model.data(model.index(row, 0)) for row in range(2)] == ["Far Slope", "North Terrace"]
    assert [model.feature_at(row) for row in range(2)] == [2, 1]
    assert model.row_of(1) == 1
    assert model.row_of(99) is None
    model.show_table(block_figures(farm, dt.date(2012, 6, 1)))
    assert model.feature_at(0) == 2


def test_a_chosen_cell_moves_with_its_row(model):
    from PySide6.QtCore import QPersistentModelIndex

    kept = QPersistentModelIndex(model.index(0, 0))
    model.sort(0, Qt.SortOrder.AscendingOrder)
    assert kept.data() == "North Terrace"


@pytest.fixture
def trees(qapp, farm, day, qtmodeltester):
    made = TreeList()
    made.show_trees(farm, day)
    qtmodeltester.check(made)
    return made


def test_the_list_holds_the_trees_that_stand(trees):
    assert list(trees.ids) == [1, 2, 4, 5, 6]
    assert [trees.data(trees.index(0, column)) for column in range(4)] == ["1", "tōtara", "North Terrace", "22.5"]
    assert trees.data(trees.index(4, 2)) == "–"
    assert trees.row_of(4) == 2
    assert trees.row_of(3) is None


def test_the_list_sorts_with_unmeasured_trees_last(trees):
    trees.sort(3, Qt.SortOrder.DescendingOrder)
    assert [trees.tree_at(row) for row in range(5)] == [1, 6, 2, 4, 5]
    trees.sort(3, Qt.SortOrder.AscendingOrder)
    assert [trees.tree_at(row) for row in range(5)] == [4, 2, 6, 1, 5]


@pytest.mark.parametrize(
    ("words", "ids"), [("4", [4]), ("far", [4, 5]), ("REDW", [4, 6]), ("zz", []), ("", [1, 2, 4, 5, 6])]
)
def test_the_list_is_looked_through_by_tag_block_and_species(trees, words, ids):
    trees.look_for(words)
    assert sorted(trees.tree_at(row) for row in range(trees.rowCount())) == ids


def test_an_empty_farm_has_an_empty_list(qapp, farm, day):
    made = TreeList()
    made.show_trees(farm.with_tables(trees=farm.trees.iloc[:0]), day)
    made.look_for("x")
    made.sort(0)
    assert made.rowCount() == 0
    assert made.row_of(1) is None


def test_working_has_formula_numbers_and_source(farm, day):
    row = dict(block_figures(farm, day).rows[0])
    words = working_in_words("stems_per_ha", row)
    assert "=" in words.splitlines()[0]
    assert f"{row['stems']}" in words
    assert "Source:" in words
    assert "not known" not in words
    assert working_in_words("stems_per_ha", None).startswith("Stems per hectare")
    assert np.isfinite(row["stems_per_ha"])
