"""The catalogue: complete, and found by the words people type."""

from __future__ import annotations

import json

import pytest
from shapely import LineString, box

from farmmap.errors import BadInput
from farmmap.figures import blocks, margins, trees, whole_farm
from farmmap.figures.catalogue import CATALOGUE, explain, find_figure, working

SHOWN = (*blocks.COLUMNS, *margins.COLUMNS, *trees.COLUMNS, *trees.HISTORY, *whole_farm.COLUMNS)


@pytest.mark.parametrize("name", sorted(set(SHOWN)))
def test_every_column_is_told(name: str) -> None:
    figure = CATALOGUE[name]
    assert figure.name == name
    assert figure.title
    assert figure.heading
    assert figure.title in explain(name)


@pytest.mark.parametrize("figure", [f for f in CATALOGUE.values() if f.places is not None], ids=lambda f: f.name)
def test_every_number_has_a_source(figure) -> None:
    assert figure.source
    assert f"Source: {figure.source}" in explain(figure.name)
    endings = {
        "_ha": ("ha", "/ha", "m²/ha", "m³/ha", "t/ha"),
        "_cm": ("cm", "cm/year"),
        "_m": ("m",),
        "_percent": ("%",),
        "_years": ("years",),
    }
    for ending, units in endings.items():
        if figure.name.endswith(ending):
            assert figure.unit in units


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("qmd_cm", "qmd_cm"),
        ("Quadratic mean diameter", "qmd_cm"),
        ("quadratic  MEAN", "qmd_cm"),
        ("qmd", "qmd_cm"),
        ("Dq", "qmd_cm"),
        ("riparian cover", "cover_percent"),
        ("longest gap", "longest_gap_m"),
        ("top height", "top_height_m"),
        ("diameter distribution", "diameter_classes"),
        ("diameter classes", "diameter_classes"),
        ("top_trees", "top_trees"),
    ],
)
def test_found_by_loosely_typed_words(typed: str, name: str) -> None:
    assert find_figure(typed).name == name


@pytest.mark.parametrize("typed", ["", "basal", "quadratik mean diametre", "the moon"])
def test_an_unknown_figure_is_answered_with_close_ones(typed: str) -> None:
    with pytest.raises(BadInput, match="there is no figure called") as told:
        explain(typed)
    if typed.startswith("quadratik"):
        assert "qmd_cm" in str(told.value)


def test_working_puts_the_numbers_in() -> None:
    told = working("stems_per_ha", {"stems": 12, "net_area_ha": 1.5, "stems_per_ha": 8.0})
    assert told.splitlines() == ["N = n ÷ Anet", "N = 12 ÷ 1.5 ha = 8.0 /ha", "Stems per hectare: 8.0 /ha"]
    assert working("qmd_cm", {}).endswith("not known")


def test_every_working_can_be_shown_for_real_rows(farm_with) -> None:
    row = whole_farm.farm_figures(farm_with()).rows[0]
    for name in CATALOGUE:
        assert working(name, {name: 1.0, **row})
        assert working(name, row)


def _keys(value: object) -> set[str]:
    """All keys of what JSON holds, at any depth."""
    if isinstance(value, dict):
        return set(value).union(*map(_keys, value.values()))
    return set().union(*map(_keys, value)) if isinstance(value, list) else set()


def test_every_key_in_json_is_explained(farm_with, at, level) -> None:
    farm = farm_with(
        blocks={"name": ["Ridge", "Later"], "geometry": [at(box(0, 0, 50, 50))] * 2, "stage": ["existing", "planned"]},
        creeks={"name": ["Sedge"], "geometry": [at(LineString([(0, 0), (50, 0)]))], "channel_m": [2.0]},
        trees={"x": [level[0] + 5], "y": [level[1] + 5], "species": ["TOT"]},
        measurements={"tree": [1], "measured_on": ["2020-01-01"], "dbh_cm": [30.0], "height_m": [12.0]},
    )
    tables = (
        blocks.block_figures(farm),
        margins.margin_figures(farm),
        trees.tree_figures(farm),
        trees.tree_history(farm, 1),
        whole_farm.farm_figures(farm),
    )
    for table in tables:
        keys = _keys(json.loads(table.as_json()))
        assert keys >= set(table.columns)
        for key in keys:
            assert f"({key})" in explain(key).splitlines()[0]
    assert {"from_cm", "percent", "top_heights"} <= _keys(json.loads(tables[0].as_json()))
