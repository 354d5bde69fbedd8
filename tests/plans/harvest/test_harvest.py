"""Harvest by five years: who is cut when, at which size, for how much, and what is left unsaid."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm, new_farm
from farmmap.figures.stand import basal_area_m2
from farmmap.plans.harvest.harvest import LATER, NO_TARGET, NOT_ENOUGH, PERIOD, harvest_of, standing_tally
from farmmap.plans.harvest.harvest_table import harvest_table
from farmmap.plans.harvest.standing_tables import carbon_table, products_table, standing_table
from farmmap.plans.harvest.timber import timber_of
from farmmap.plans.harvest.worth import present_value, worth_of
from tests.conftest import days, small_farm
from tests.figures.growth.grown_farm import grown_farm
from tests.place import EAST, NORTH
from tests.plans.harvest.grown import ON, grow_evenly, planted, priced, with_rows

TARGET = {"species": ["TOTA"], "dbh_cm": [50.0]}


@pytest.fixture
def grown(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> Farm:
    """Six tōtara: ready, marked, two to come, one too far off, one without a diameter; and a redwood without target."""
    grow_evenly(monkeypatch)
    trees = planted(
        farm,
        [55.0, 20.0, 47.0, 34.0, 49.0, np.nan, 30.0],
        [25.0, 14.0, 24.0, 20.0, 24.5, np.nan, 22.0],
        ["TOTA"] * 6 + ["REDW"],
        mark=["", "take", "", "", "crop", "", ""],
    )
    return with_rows(priced(trees), "targets", **TARGET)


def test_periods(grown: Farm) -> None:
    tally = harvest_of(grown, ON).tally.by(PERIOD)
    # 55 and 49 cm (a half year) and 47 cm (1.5 years) by 2024, and the marked one; 34 cm is ready in 2028.5
    assert dict(zip(tally.keys[:, 0].tolist(), tally.trees.tolist(), strict=True)) == {
        0: 4,
        1: 1,
        NOT_ENOUGH: 1,
        NO_TARGET: 1,
    }
    assert harvest_of(grown, ON).words(0) == "2020 to 2024"
    assert harvest_of(grown, ON).words(LATER) == "after 2079"


def test_sizes_at_harvest_by_hand(grown: Farm) -> None:
    """The tree of 34 cm is cut in 2025 to 2029 at the size of the middle of 2027; ready and marked ones as they are."""
    harvest = harvest_of(grown, ON)
    rows = harvest.tally.of(harvest.tally.keys[:, PERIOD] == 1)
    grown_cm = 2.0 * (dt.date(2027, 7, 2) - ON).days / 365.25

    def volume(tree: int, dbh_cm: float, times: float = 1.0) -> float:
        """Volume at that size, the height following the curve through the six trees that have one."""
        was = harvest.timber.there.dbh_cm[[tree]]
        height = harvest.timber.heights.grown(np.array([tree]), was, np.array([dbh_cm * times]))
        return float(0.35 * height[0] * basal_area_m2(dbh_cm * times))

    assert volume(3, 34.0 + grown_cm) > 0.35 * 20.0 * basal_area_m2(34.0 + grown_cm)
    assert rows.stem_m3[0] == pytest.approx(volume(3, 34.0 + grown_cm), rel=1e-3)
    assert rows.low_m3[0] == pytest.approx(volume(3, 34.0 + grown_cm, 0.9), rel=1e-3)
    assert rows.high_m3[0] == pytest.approx(volume(3, 34.0 + grown_cm, 1.2), rel=1e-3)
    first = harvest.tally.of(harvest.tally.keys[:, PERIOD] == 0)
    as_they_are = 0.35 * (basal_area_m2(55) * 25 + basal_area_m2(20) * 14)
    middle = 2.0 * (dt.date(2022, 7, 2) - ON).days / 365.25
    assert first.stem_m3[0] == pytest.approx(as_they_are + volume(2, 47 + middle) + volume(4, 49 + middle), rel=1e-3)


def test_the_table_says_what_it_does_not_know(grown: Farm) -> None:
    table = harvest_table(grown, ON)
    said = {(row["harvest_period"], row["species"]): row for row in table.rows}
    assert said["not enough to say", "tōtara"]["stem_volume_m3"] is None
    assert said["no target set", "coast redwood"]["own_value"] is None
    notes = "\n".join(table.notes)
    assert "1 tree is marked to be taken out." in notes
    assert "2 trees have no year of harvest within 60 years" in notes
    assert "Estimate, no advice." in notes
    assert "Without a price, and so in no value: post." in notes


def test_a_day_that_has_not_come_starts_from_what_was_measured(grown: Farm) -> None:
    """Sizes forecast for that day must not be cut in the years before it."""
    today, ahead = (harvest_table(grown, on) for on in (dt.datetime.now().astimezone().date(), dt.date(2090, 1, 1)))
    assert ahead.rows == today.rows
    assert ahead.title == today.title
    assert not harvest_of(grown, dt.date(2090, 1, 1)).timber.there.forecast
    assert any(note.startswith("2090-01-01 has not come, so harvests are told from 20") for note in ahead.notes)


def test_a_year_of_harvest_without_a_volume_is_told_apart(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    grow_evenly(monkeypatch)
    table = harvest_table(with_rows(planted(farm, [55.0], [np.nan]), "targets", **TARGET), ON)
    assert [(row["harvest_period"], row["stem_volume_m3"]) for row in table.rows] == [("2020 to 2024", None)]
    assert [table.rows[0][name] for name in ("stem_volume_low_m3", "stem_volume_high_m3")] == [None, None]
    notes = "\n".join(table.notes)
    assert "1 tree has a year of harvest but no volume" in notes
    assert "no year of harvest" not in notes


def test_a_bound_outside_the_local_table_is_not_given(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    """The high end of 47 cm and two years, times 1.2, is thicker than the table goes: nought would be below the low."""
    grow_evenly(monkeypatch)
    one = with_rows(planted(farm, [47.0], [20.0]), "targets", **TARGET)
    lines = {"species": [""] * 2, "kind": ["table"] * 2, "dbh_cm": [20.0, 55.0], "volume_m3": [0.2, 2.0]}
    table = harvest_table(with_rows(one, "volumes", **lines), ON)
    row = table.rows[0]
    assert 0 < row["stem_volume_low_m3"] < row["stem_volume_m3"]
    assert row["stem_volume_high_m3"] is None
    assert "A high that is not given lies outside the local volume table." in table.notes


def test_what_stands_on_a_day_to_come_has_bounds() -> None:
    farm = with_rows(grown_farm(), "volumes", species=["PRAD"], kind=["power"], a=[0.0001], b=[2.3])
    for by in ("species", "block"):
        table = standing_table(farm, dt.date(2090, 1, 1), by)
        known = [row for row in table.rows if row["stem_volume_m3"]]
        assert known
        for row in known:
            assert row["stem_volume_low_m3"] < row["stem_volume_m3"] < row["stem_volume_high_m3"]
        assert table.brief[3:5] == ("stem_volume_low_m3", "stem_volume_high_m3")
        assert table.as_text()
        assert "stem_volume_low_m3" not in standing_table(farm, ON, by).columns


def test_a_reading_in_millimetres_is_told_of(farm: Farm) -> None:
    wrong = planted(farm, [240.0, 24.0], [18.0, 18.0], planted=["2005", "2005"])
    assert timber_of(wrong, ON).too_thick.tolist() == [True, False]
    for table in (standing_table(wrong, ON), harvest_table(wrong, ON)):
        assert any(note.startswith("1 tree was read thicker than can be at that age") for note in table.notes)


def test_nothing_known_is_not_nought(farm: Farm) -> None:
    priced_farm = priced(planted(farm, [30.0, np.nan], [np.nan, np.nan]))
    for harvested in (False, True):
        for row in products_table(priced_farm, ON, harvested=harvested).rows:
            assert [row[name] for name in ("pieces", "product_volume_m3", "own_value")] == [None] * 3
    notes = "\n".join(standing_table(priced_farm, ON).notes)
    assert "BEF" not in notes
    assert "form factor" not in notes
    thin = priced(planted(farm, [8.0], [6.0]))
    assert [row["pieces"] for row in products_table(thin, ON).rows if row["sold_as"] == "log"] == [0]


def test_present_value_is_brought_back_at_the_rate(grown: Farm) -> None:
    table = harvest_table(grown, ON, rate_percent=4.0)
    row = next(row for row in table.rows if row["harvest_period"] == "2025 to 2029")
    years = 2027.5 - (2020 + (ON.timetuple().tm_yday - 1) / 365.25)
    assert row["years_ahead"] == pytest.approx(years)
    assert row["present_value"] == pytest.approx(row["own_value"] / 1.04**years)
    nothing = harvest_table(grown, ON, rate_percent=0.0)
    assert [row["present_value"] for row in nothing.rows] == [row["own_value"] for row in nothing.rows]
    with pytest.raises(BadInput, match="0 to 30 %"):
        harvest_table(grown, ON, rate_percent=31.0)
    with pytest.raises(BadInput, match="not nan"):
        harvest_table(small_farm(), ON, rate_percent=float("nan"))


def test_present_value_by_hand() -> None:
    """Textbook: 1,000 in ten years at 7 % is 508.35 today."""
    assert present_value(1000.0, 10.0, 7.0) == pytest.approx(508.35, abs=5e-3)


def test_value_by_hand(farm: Farm) -> None:
    farm = priced(planted(farm, [60.0], [30.0]))
    tally = standing_tally(farm, ON)
    found = worth_of(tally, timber_products(farm))
    log, post, wood = tally.product_m3[0]
    assert log > 1.0
    assert post > 0.0
    assert found.value[0] == pytest.approx(100.0 * log + 40.0 * wood)
    assert found.unpriced_m3[0] == pytest.approx(post)


def timber_products(farm: Farm) -> tuple:
    from farmmap.plans.harvest.product_list import product_list

    return product_list(farm).products


def test_without_prices_there_is_no_value_at_all(farm: Farm) -> None:
    farm = planted(farm, [60.0, 40.0], [30.0, 25.0])
    table = standing_table(farm, ON)
    assert [row["own_value"] for row in table.rows] == [None]
    assert table.rows[0]["unpriced_m3"] == pytest.approx(table.rows[0]["product_volume_m3"])
    assert "No product has a price, so no value is given." in table.notes
    assert all(row["price"] is None and row["own_value"] is None for row in products_table(farm, ON).rows)


def test_sums_agree_whichever_way_they_are_grouped(grown: Farm) -> None:
    by_species, by_block = standing_table(grown, ON), standing_table(grown, ON, "block")
    products = products_table(grown, ON)
    for name in ("stem_volume_m3", "product_volume_m3", "own_value", "co2_t"):
        sums = [sum(row[name] or 0.0 for row in table.rows) for table in (by_species, by_block)]
        assert sums[0] == pytest.approx(sums[1])
    for name in ("product_volume_m3", "own_value"):
        total = sum(row[name] or 0.0 for row in products.rows)
        assert total == pytest.approx(sum(row[name] or 0.0 for row in by_species.rows))
    inside = standing_table(grown, ON, "block", block=1)
    assert [row["name"] for row in inside.rows] == ["North Terrace"]


def test_a_tree_of_several_stems_gives_as_many(farm: Farm) -> None:
    one = timber_of(planted(farm, [30.0], [20.0]), ON)
    three = timber_of(planted(farm, [30.0], [20.0], stems=[3]), ON)
    assert three.each.tolist() == [3]
    volume = 0.35 * basal_area_m2(30.0) * 20.0
    assert one.stems.volume_m3[0] == pytest.approx(volume)
    table = standing_table(planted(farm, [30.0], [20.0], stems=[3]), ON)
    assert table.rows[0]["stem_volume_m3"] == pytest.approx(3 * volume)


def test_carbon_by_density_or_by_growing_stock(farm: Farm) -> None:
    """The redwoods have no density in the tables, so BCEF goes by what stands in their block; its own density ends it."""
    farm = planted(farm, [60.0, 60.0], [30.0, 30.0], ["REDW", "REDW"])
    volume = 2 * 0.35 * basal_area_m2(60.0) * 30.0
    row = carbon_table(farm, ON).rows[0]
    assert row["above_ground_t"] == pytest.approx(volume * 3.0)  # under 20 m³ on its hectare: 3.0 for a conifer
    assert row["below_ground_t"] == pytest.approx(row["above_ground_t"] * 0.40)
    assert row["carbon_t"] == pytest.approx(row["above_ground_t"] * 1.40 * 0.51)
    assert row["co2_t"] == pytest.approx(row["carbon_t"] * 44 / 12)
    own = with_rows(farm, "volumes", species=["REDW"], a=[0.35], density_t_m3=[0.35])
    assert carbon_table(own, ON).rows[0]["above_ground_t"] == pytest.approx(volume * 0.35 * 1.3)
    assert any("from memory" in note for note in carbon_table(farm, ON).notes)


def test_trees_whose_carbon_cannot_be_told(farm: Farm) -> None:
    """Outside a block no growing stock is known; without a species no group is."""
    lost = planted(farm, [60.0], [30.0], ["REDW"], x=[1_800_900.0], y=[5_400_900.0])
    assert carbon_table(lost, ON).rows[0]["co2_t"] is None
    assert any("no factor fits" in note for note in carbon_table(lost, ON).notes)
    nameless = planted(farm, [60.0], [30.0], [""])
    assert carbon_table(nameless, ON).rows[0]["co2_t"] is None
    assert standing_table(nameless, ON).rows[0]["stem_volume_m3"] is not None


@pytest.mark.parametrize("by", ["species", "block"])
def test_strange_farms(monkeypatch: pytest.MonkeyPatch, farm: Farm, by: str) -> None:
    grow_evenly(monkeypatch)
    empty = new_farm("Empty", "EPSG:2193")
    bare = planted(farm, [np.nan, np.nan], [np.nan, np.nan], ["", "GONE"])
    no_heights = planted(farm, [30.0, 40.0], [np.nan, np.nan])
    for one in (empty, bare, no_heights, farm):
        for table in (standing_table(one, ON, by), carbon_table(one, ON, by), harvest_table(one, ON)):
            assert table.as_text()
            assert table.as_csv()
            assert table.as_json()
    assert all(row["stem_volume_m3"] is None for row in standing_table(bare, ON, by).rows)
    assert all(row["stem_volume_m3"] is None for row in standing_table(no_heights, ON, by).rows)
    assert any("Measure a few heights" in note for note in standing_table(no_heights, ON).notes)
    assert any("no diameter" in note for note in standing_table(bare, ON).notes)


def test_outside_the_local_table_is_said(farm: Farm) -> None:
    farm = planted(farm, [30.0, 80.0], [20.0, 20.0])
    lines = {"species": [""] * 2, "kind": ["table"] * 2, "dbh_cm": [20.0, 40.0], "volume_m3": [0.2, 1.0]}
    table = standing_table(with_rows(farm, "volumes", **lines), ON)
    assert table.rows[0]["stem_volume_m3"] == pytest.approx(0.6)
    assert table.rows[0]["volume_known_percent"] == 50.0
    assert any(note.startswith("1 tree is outside the local volume table") for note in table.notes)


def test_under_bark_is_the_square_of_the_bark_ratio(farm: Farm) -> None:
    """Bark ratio k of diameters: volumes under bark are k² of those over bark, species by species."""
    farm = planted(farm, [30.0, 40.0], [20.0, 20.0], ["TOTA", "REDW"])
    ratios = {"species": ["TOTA", "REDW"], "a": [0.4, 0.4], "bark_ratio": [0.9, 0.8]}
    rows = {row["code"]: row for row in standing_table(with_rows(farm, "volumes", **ratios), ON).rows}
    for code, ratio in (("TOTA", 0.9), ("REDW", 0.8)):
        assert rows[code]["under_bark_m3"] == pytest.approx(rows[code]["stem_volume_m3"] * ratio**2)


def test_a_volume_that_cannot_be_is_not_counted_and_said(farm: Farm) -> None:
    farm = planted(farm, [30.0, 40.0], [20.0, 20.0], ["TOTA", "REDW"])
    table = standing_table(with_rows(farm, "volumes", species=["TOTA"], a=[35.0]), ON)
    assert {row["code"]: row["volume_known"] for row in table.rows} == {"TOTA": 0, "REDW": 1}
    (said,) = (note for note in table.notes if "cylinder" in note)
    assert said.startswith("1 tree gets more volume from the farm's own figures for tōtara than")
    assert not any("outside the local volume table" in note for note in table.notes)


def test_a_product_that_nothing_can_be_cut_into_is_named(farm: Farm) -> None:
    farm = planted(farm, [30.0], [20.0])
    sizes = {"small_end_cm": [40.0, 20.0, 5.0], "large_end_cm": [20.0, 20.0, np.nan]}
    own = with_rows(farm, "products", name=["log", "post", "billet"], price=[-5.0, 1.0, 2.0], **sizes)
    table = products_table(own, ON)
    assert [row["pieces"] for row in table.rows if row["sold_as"] != "billet"] == [0, 0]
    assert not any(str(row["own_value"]).startswith("-0") for row in table.rows)
    notes = " ".join(table.notes)
    assert "cut into log, as its small end of 40 cm is not thinner than its large end of 20 cm" in notes
    assert "cut into post" in notes
    assert "cut into billet" not in notes


def test_blocks_known_from_plots_only_are_named(farm: Farm) -> None:
    farm = planted(farm, [30.0], [20.0])
    plots = {"name": ["1"], "block": ["Far Slope"], "radius_m": [8.0], "measured_on": days("2020-06-01")}
    sampled = with_rows(farm, "plots", x=[EAST + 150.0], y=[NORTH + 50.0], **plots)
    sampled = with_rows(sampled, "plot_trees", plot=[1], species=["TOTA"], dbh_cm=[20.0])
    for table in (standing_table(sampled, ON, "block"), harvest_table(sampled, ON)):
        assert any(note.endswith("none of these volumes: Far Slope.") for note in table.notes)
    assert not any("none of these volumes" in note for note in standing_table(sampled, ON, "block", block=1).notes)


def test_real_growth_is_asked_as_agreed(farm: Farm) -> None:
    """Too few readings: nothing is made up, and the calls fit the growth that is really there."""
    table = harvest_table(with_rows(farm, "targets", species=[""], dbh_cm=[15.0]), dt.date(2021, 1, 1))
    said = {str(row["harvest_period"]) for row in table.rows}
    assert "2021 to 2025" in said
