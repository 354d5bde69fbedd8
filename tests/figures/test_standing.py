"""Which trees count on a day, and what was known of them by then."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.farm import Farm
from farmmap.figures.blocks import block_figures
from farmmap.figures.stand import basal_area_m2
from farmmap.figures.standing import newest_day, standing
from farmmap.figures.trees import tree_figures
from farmmap.figures.whole_farm import farm_figures

ON = dt.date(2020, 6, 30)


def _one(farm_with, tree=None, on=ON, settings=None, species=None, **measured) -> dict[str, object]:
    """Figures of one tree with these measurements, "" if it does not count."""
    tables = {"trees": {"x": [0.0], "y": [0.0]} | {k: [v] for k, v in (tree or {}).items()}}
    if measured:
        count = len(measured["measured_on"])
        tables["measurements"] = {"tree": [1] * count, **measured}
    if species:
        tables["species"] = {key: [value] for key, value in species.items()}
    there = standing(farm_with(settings=settings, **tables), on)
    if not len(there):
        return {}
    fields = ("dbh_cm", "basal_area_m2", "diameters", "height_m", "crown_m", "crown_estimated", "pruned_m")
    fields += ("measured", "measured_on", "age_years", "age_measured_years")
    return {name: getattr(there, name)[0] for name in fields}


@pytest.mark.parametrize(
    ("tree", "counts"),
    [
        ({}, True),
        ({"status": "dead"}, False),
        ({"status": "felled"}, False),
        ({"status": "dead", "status_on": "2020-07-01"}, True),
        ({"status": "dead", "status_on": "2020-06-30"}, False),
        ({"status": "felled", "status_on": "2019-01-01"}, False),
        ({"status": "alive", "status_on": "2019-01-01"}, True),
        ({"stage": "planned"}, False),
        ({"planted": "2020-07-01"}, False),
        ({"planted": "2020-06-30"}, True),
        ({"planted": "2020-06"}, True),
        ({"planted": "2020-07"}, False),
        ({"planted": "2020"}, True),
        ({"planted": "2021"}, False),
    ],
)
def test_which_trees_count(farm_with, tree: dict[str, str], counts: bool) -> None:
    assert bool(_one(farm_with, tree)) is counts


def test_latest_measurement_on_or_before_the_day(farm_with) -> None:
    readings = {"measured_on": ["2021-01-01", "2020-06-30", "2010-01-01"], "dbh_cm": [50.0, 40.0, 30.0]}
    assert _one(farm_with, **readings)["dbh_cm"] == pytest.approx(40)
    assert _one(farm_with, on=dt.date(2020, 6, 29), **readings)["dbh_cm"] == pytest.approx(30)
    assert _one(farm_with, on=dt.date(2022, 1, 1), **readings)["dbh_cm"] == pytest.approx(50)
    early = _one(farm_with, on=dt.date(2009, 12, 31), **readings)
    assert not early["measured"]
    assert np.isnan(early["basal_area_m2"])
    assert np.isnat(early["measured_on"])


def test_each_quantity_comes_from_its_own_latest_day(farm_with) -> None:
    nan = float("nan")
    found = _one(
        farm_with,
        measured_on=["2010-01-01", "2012-01-01", "2014-01-01", "2016-01-01"],
        dbh_cm=[20.0, 25.0, 0.0, nan],
        height_m=[12.0, nan, nan, nan],
        crown_m=[nan, nan, 5.5, nan],
        pruned_m=[2.0, nan, nan, 0.0],
    )
    assert found["dbh_cm"] == pytest.approx(25)
    assert str(found["measured_on"]) == "2012-01-01"
    assert (found["height_m"], found["crown_m"], found["pruned_m"]) == (12.0, 5.5, 0.0)
    assert not found["crown_estimated"]


def test_a_diameter_of_nought_is_not_measured(farm_with) -> None:
    assert not _one(farm_with, measured_on=["2020-01-01"], dbh_cm=[0.0])["measured"]


@pytest.mark.parametrize(
    ("height", "breast", "farm_breast", "measured"),
    [(1.29, np.nan, 1.3, False), (1.3, np.nan, 1.3, True), (1.35, np.nan, 1.4, False), (1.35, 1.3, 1.4, True)],
)
def test_a_sapling_below_breast_height_has_no_diameter(farm_with, height, breast, farm_breast, measured) -> None:
    found = _one(
        farm_with,
        settings={"breast_height_m": farm_breast},
        measured_on=["2020-01-01"],
        dbh_cm=[2.0],
        height_m=[height],
        breast_height_m=[breast],
    )
    assert found["measured"] == measured
    assert found["diameters"] == int(measured)


def test_one_diameter_stands_for_every_stem(farm_with) -> None:
    found = _one(farm_with, {"stems": 3}, measured_on=["2020-01-01"], dbh_cm=[10.0])
    assert found["basal_area_m2"] == pytest.approx(3 * basal_area_m2(10))
    assert (found["diameters"], found["dbh_cm"]) == (3, pytest.approx(10))


def test_several_diameters_count_once_each(farm_with) -> None:
    readings = {
        "measured_on": ["2020-01-01"] * 3 + ["2015-01-01"],
        "stem": [1, 2, 2, 3],
        "dbh_cm": [10.0, 99.0, 20.0, 50.0],
    }
    found = _one(farm_with, {"stems": 3}, **readings)
    assert found["basal_area_m2"] == pytest.approx(basal_area_m2([10, 20]).sum())
    assert found["diameters"] == 2
    assert found["dbh_cm"] == pytest.approx(np.sqrt(250))


def test_crown_is_estimated_from_the_stem_where_it_was_not_measured(farm_with) -> None:
    readings = {"measured_on": ["2020-01-01"], "dbh_cm": [30.0]}
    assert _one(farm_with, **readings)["crown_m"] == pytest.approx(6.0)
    own = {"code": "TOT", "crown_base_m": 1.0, "crown_per_cm": 0.1}
    found = _one(farm_with, {"species": "TOT"}, species=own, **readings)
    assert found["crown_m"] == pytest.approx(4.0)
    assert found["crown_estimated"]
    four = _one(farm_with, {"stems": 4}, **readings)
    assert four["crown_m"] == pytest.approx(12.0)
    assert np.isnan(_one(farm_with)["crown_m"])
    assert _one(farm_with, crown_m=[0.0], **readings)["crown_estimated"]


def test_age_counts_from_the_middle_of_what_is_known(farm_with) -> None:
    found = _one(farm_with, {"planted": "2000"}, measured_on=["2010-07-01"], dbh_cm=[5.0], on=dt.date(2020, 7, 1))
    assert found["age_years"] == pytest.approx(20, abs=0.003)
    assert found["age_measured_years"] == pytest.approx(10, abs=0.003)
    assert _one(farm_with, {"planted": "2020"}, on=dt.date(2020, 2, 1))["age_years"] == 0
    assert np.isnan(_one(farm_with)["age_years"])


def test_species_keep_the_order_of_the_farms_list(farm_with) -> None:
    farm = farm_with(
        trees={"x": [0.0] * 4, "y": [0.0] * 4, "species": ["ZZZ", "B", "", "A"]},
        species={"code": ["B", "A"], "name": ["beech", ""]},
    )
    there = standing(farm, ON)
    assert there.species_names == ("B", "A", "ZZZ", "")
    assert there.species_labels == ("beech", "A", "ZZZ", "species not given")
    assert there.species.tolist() == [2, 0, 3, 1]


def test_the_newest_day(farm_with) -> None:
    farm = farm_with(
        trees={"x": [0.0], "y": [0.0]},
        measurements={"tree": [1, 1], "measured_on": ["2018-03-04", "2011-01-01"], "dbh_cm": [3.0, 2.0]},
    )
    assert newest_day(farm) == dt.date(2018, 3, 4)
    assert standing(farm).on == dt.date(2018, 3, 4)
    assert abs((newest_day(farm_with()) - dt.datetime.now().astimezone().date()).days) <= 1


def test_the_same_question_is_answered_once(farm_with) -> None:
    farm = farm_with(trees={"x": [0.0], "y": [0.0]})
    assert standing(farm, ON) is standing(farm, ON)
    assert standing(farm, dt.date(2020, 7, 1)) is not standing(farm, ON)


def test_an_empty_farm(farm_with) -> None:
    there = standing(farm_with(), ON)
    assert len(there) == 0
    assert there.crown_m.shape == (0,)
    assert there.species_names == ()


def test_trees_taken_at_another_height_are_said(farm_with) -> None:
    farm = farm_with(
        trees={"x": [0.0, 1.0], "y": [0.0, 0.0]},
        measurements={
            "tree": [1, 2],
            "measured_on": ["2020-01-01"] * 2,
            "dbh_cm": [20.0, 20.0],
            "breast_height_m": [1.4, np.nan],
        },
        settings={"breast_height_m": 1.3},
    )
    assert standing(farm, ON).other_breast_height == 1


readings = st.lists(
    st.tuples(
        st.integers(1, 6), st.integers(0, 9), st.integers(1, 3), st.sampled_from([0.0, float("nan"), 5.0, 12.5, 40.0])
    ),
    max_size=40,
)


@given(readings, st.integers(0, 9), st.randoms())
def test_agrees_with_a_walk_through_every_row(farm_with, rows, day: int, random) -> None:
    on = dt.date(2000 + day, 1, 1)
    expected = {}
    for tree in range(1, 7):
        dated = [(d, s, v, n) for n, (t, d, s, v) in enumerate(rows) if t == tree and d <= day and v > 0]
        last = max((d for d, *_ in dated), default=None)
        stems = {s: v for d, s, v, _ in dated if d == last}
        expected[tree] = sum(v**2 for v in stems.values()) if stems else None
    farm = _of_rows(farm_with, rows)
    there = standing(farm, on)
    for place, tree in enumerate(there.ids):
        total = there.dbh_cm[place] ** 2 * there.diameters[place]
        if expected[int(tree)] is None:
            assert np.isnan(total)
        else:
            assert total == pytest.approx(expected[int(tree)])


def _of_rows(farm_with, rows) -> Farm:
    tables = {"trees": {"x": np.zeros(6), "y": np.zeros(6)}}
    if rows:
        tree, day, stem, dbh = zip(*rows, strict=True)
        tables["measurements"] = {
            "tree": list(tree),
            "measured_on": [f"{2000 + d}-01-01" for d in day],
            "stem": list(stem),
            "dbh_cm": list(dbh),
        }
    return farm_with(**tables)


def test_a_reading_of_the_future_does_not_become_the_day(farm_with) -> None:
    def farm(*days: str) -> Farm:
        return farm_with(
            trees={"x": [0.0], "y": [0.0]}, measurements={"tree": [1] * len(days), "measured_on": list(days)}
        )

    today = dt.date(2024, 5, 6)
    assert newest_day(farm("2020-01-01", "2024-05-06", "2042-05-06"), today) == today
    assert newest_day(farm("2020-01-01", "2024-05-07"), today) == dt.date(2020, 1, 1)
    assert newest_day(farm("2041-01-01", "2042-01-01"), today) == dt.date(2042, 1, 1)
    assert newest_day(farm("2020-01-01", "9021-01-01")) == dt.date(2020, 1, 1)
    assert newest_day(farm_with(), today) == today


def test_readings_of_a_later_day_are_told(farm_with) -> None:
    farm = farm_with(
        trees={"x": [0.0], "y": [0.0]},
        measurements={"tree": [1] * 3, "measured_on": ["2020-01-01", "9021-01-01", "9022-01-01"]},
    )
    told = "2 readings are of a later day and are not counted."
    for table in (block_figures(farm), tree_figures(farm), farm_figures(farm)):
        assert told in table.notes
    assert "1 reading is of a later day and is not counted." in tree_figures(farm, dt.date(9021, 5, 1)).notes
    assert not any("later day" in note for note in tree_figures(farm, dt.date(9022, 1, 1)).notes)
