"""Factors of a partly measured block are those of the whole block, and it is said so."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from shapely import box

from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.figures.grounds import grounds
from farmmap.figures.stand import basal_area_m2
from farmmap.plans.harvest.block_stock import BlockStock
from farmmap.plans.harvest.carbon import carbon_of
from farmmap.plans.harvest.standing_tables import carbon_table, standing_table
from farmmap.plans.harvest.timber import timber_of
from tests.conftest import days, small_farm
from tests.place import EAST, NORTH
from tests.plans.harvest.grown import with_rows

ON = dt.date(2020, 7, 1)
SIDE = 31.62
"""Side of a block of about a tenth of a hectare. [m]"""


def stand(measured: int, trees: int = 40, dbh: float = 30.0, height: float = 20.0) -> Farm:
    """Tōtara, whose density is not known, of one size on a tenth of a hectare; 198 m³/ha if all 40 are counted."""
    farm = small_farm()
    ids = np.arange(1, trees + 1)
    east, north = np.divmod(np.arange(trees), 7)
    values = {
        "tag": [str(one) for one in ids],
        "species": ["TOTA"] * trees,
        "x": EAST + 2 + 4.5 * east,
        "y": NORTH + 2 + 4.5 * north,
    }
    taken = {
        "tree": ids[:measured],
        "measured_on": days(*["2020-05-01"] * measured),
        "dbh_cm": np.full(measured, dbh),
        "height_m": np.full(measured, height),
    }
    return farm.with_tables(
        blocks=shaped(
            TABLES["blocks"],
            {"name": ["Tenth"], "geometry": [box(EAST, NORTH, EAST + SIDE, NORTH + SIDE)]},
            np.array([1]),
            farm.grid,
        ),
        tracks=farm.tracks.iloc[:0],
        hazards=farm.hazards.iloc[:0],
        trees=shaped(TABLES["trees"], values, ids, farm.grid),
        measurements=shaped(TABLES["measurements"], taken, ids[:measured], farm.grid),
    )


def per_tonne(farm: Farm) -> tuple[float, float]:
    """Return biomass above ground a cubic metre, and roots a tonne of it: BCEF and R as they were taken."""
    (row,) = standing_table(farm, ON, "block").rows
    return row["above_ground_t"] / row["stem_volume_m3"], row["below_ground_t"] / row["above_ground_t"]


@pytest.mark.parametrize("measured", [40, 20, 4])
def test_a_partly_measured_block_has_the_factors_of_the_whole_block(measured: int) -> None:
    """198 m³/ha of other conifers: BCEF 0.75 (IPCC table 4.5), then 148 t/ha: R 0.29; four trees alone have 3.0."""
    bcef, roots = per_tonne(stand(measured))
    assert bcef == pytest.approx(0.75)
    assert roots == pytest.approx(0.29)


def test_a_block_with_few_trees_keeps_the_factor_of_a_poor_stand() -> None:
    """Four trees that are all there are: 19.8 m³/ha, so 3.0; of 31 cm 21.1 m³/ha, so 1.4, and R below 50 t/ha 0.40."""
    assert per_tonne(stand(4, trees=4))[0] == pytest.approx(3.0)
    assert per_tonne(stand(4, trees=4, dbh=31.0)) == pytest.approx((1.4, 0.40))


def test_it_is_said_by_how_much_and_on_how_little_it_rests() -> None:
    notes = carbon_table(stand(20), ON).notes
    (said,) = (note for note in notes if "Tenth" in note)
    assert "Tenth 198 m³/ha instead of 99 (20 of 40 trees)" in said
    assert not any("guess" in note for note in notes)
    assert any("guess" in note for note in carbon_table(stand(4), ON).notes)
    for nearly_all in (39, 40):
        assert not any("Tenth" in note for note in carbon_table(stand(nearly_all), ON).notes)


def with_plots(farm: Farm, dbh: float, trees: int) -> Farm:
    """Three circles of 50 m², each with so many trees of that size."""
    there = with_rows(
        farm,
        "plots",
        name=["1", "2", "3"],
        block=["Tenth"] * 3,
        design=["random"] * 3,
        shape=["circle"] * 3,
        radius_m=[np.sqrt(50 / np.pi)] * 3,
        measured_on=days("2020-06-01", "2020-06-01", "2020-06-01"),
        x=EAST + np.array([8.0, 16, 24]),
        y=NORTH + np.array([8.0, 16, 24]),
    )
    return with_rows(there, "plot_trees", plot=[1, 2, 3], species=["TOTA"] * 3, dbh_cm=[dbh] * 3, trees=[trees] * 3)


def test_plots_that_tell_of_more_than_is_mapped_choose_the_factors() -> None:
    """Four trees mapped and measured, but plots say 400 stems/ha of the same: the factors are those of 198 m³/ha."""
    farm = with_plots(stand(4, trees=4), 30.0, 2)
    assert per_tonne(farm) == pytest.approx((0.75, 0.29))
    timber = timber_of(farm, ON)
    stock = carbon_of(farm, timber).stock
    mapped = 4 * float(basal_area_m2(30.0)) / grounds(farm).net_ha[0]
    assert stock.times[0] == pytest.approx(400 * float(basal_area_m2(30.0)) / mapped)
    assert any("sample plots say" in note for note in carbon_table(farm, ON).notes)


def test_plots_that_tell_of_less_than_is_mapped_change_nothing() -> None:
    assert per_tonne(with_plots(stand(40), 10.0, 1)) == pytest.approx((0.75, 0.29))
    farm = with_plots(stand(4, trees=4), 30.0, 2)
    later = farm.with_tables(plots=farm.plots.assign(measured_on=days(*["2020-08-01"] * 3)))
    assert per_tonne(later)[0] == pytest.approx(3.0)


def test_trees_in_no_block_and_blocks_without_ground() -> None:
    farm = stand(4)
    away = farm.with_tables(trees=farm.trees.assign(x=farm.trees["x"] + 5_000))
    assert carbon_table(away, ON).rows[0]["co2_t"] is None
    bare = farm.with_tables(blocks=farm.blocks.iloc[:0])
    assert carbon_table(bare, ON).rows[0]["co2_t"] is None


@pytest.mark.parametrize(("many", "ends"), [(4, "(20 of 40 trees)"), (5, "and 1 more block"), (6, "and 2 more blocks")])
def test_of_many_blocks_only_some_are_named(many: int, ends: str) -> None:
    ids = np.arange(many)
    stock = BlockStock(
        replace(grounds(stand(4)), ids=ids),
        np.full(many, 40),
        np.full(many, 20),
        np.full(many, 99.0),
        np.full(many, 2.0),
        np.zeros(many, bool),
    )
    (said,) = stock.words(lambda block: f"Block {block}", ids)
    assert said.partition(". Carbon")[0].endswith(ends)
