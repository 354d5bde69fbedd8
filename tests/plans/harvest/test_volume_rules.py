"""Volume rules: whose figures go first, local tables, and what is never made up."""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.errors import BadInput
from farmmap.farm.farm import Farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.plans.harvest.local_tables import LocalTable
from farmmap.plans.harvest.own_equation import own_equation, stems_typed
from farmmap.plans.harvest.volume_rules import stem_volume_m3, volume_rules

G30 = np.pi * 0.09 / 4


def with_volumes(farm: Farm, **values: list[object]) -> Farm:
    count = len(next(iter(values.values())))
    return farm.with_tables(volumes=shaped(TABLES["volumes"], values, np.arange(1, count + 1), farm.grid))


def test_a_species_without_figures_takes_those_of_every_species(farm: Farm) -> None:
    assert stem_volume_m3(farm, "TOTA", 30, 20) == pytest.approx(0.35 * G30 * 20)
    assert stem_volume_m3(farm, "", 30, 20) == pytest.approx(0.35 * G30 * 20)
    assert not volume_rules(farm).of("TOTA").is_own


def test_own_lines_go_before_lines_for_every_species(farm: Farm) -> None:
    own = with_volumes(farm, species=["", "REDW"], a=[0.5, 0.3], bark_ratio=[0.9, np.nan])
    assert stem_volume_m3(own, "TOTA", 30, 20) == pytest.approx(0.5 * G30 * 20)
    assert stem_volume_m3(own, "REDW", 30, 20) == pytest.approx(0.3 * G30 * 20)
    assert volume_rules(own).of("REDW").bark_ratio == 0.9
    assert volume_rules(own).of("REDW").is_own


def test_power_equation(farm: Farm) -> None:
    own = with_volumes(farm, species=["TOTA"], kind=["power"], a=[5e-5], b=[1.9], c=[1.0])
    assert stem_volume_m3(own, "TOTA", 30, 20) == pytest.approx(5e-5 * 30**1.9 * 20)
    bare = with_volumes(farm, species=["TOTA"], kind=["power"], a=[1e-4], b=[2.5])
    assert not volume_rules(bare).of("TOTA").needs_height
    assert stem_volume_m3(bare, "TOTA", 30, np.nan) == pytest.approx(1e-4 * 30**2.5)


@pytest.mark.parametrize(
    "line",
    [
        {"kind": ["power"], "a": [1e6], "b": [20.0], "c": [20.0]},
        {"kind": ["power"], "a": [0.05], "b": [1.9], "c": [1.0]},  # litres instead of m³
        {"kind": ["form factor"], "a": [35.0]},  # per cent
    ],
)
def test_more_than_a_cylinder_is_not_believed(farm: Farm, line: dict[str, list[object]]) -> None:
    own = with_volumes(farm, species=["TOTA"], **line)
    assert np.isnan(stem_volume_m3(own, "TOTA", [30.0], [20.0])).all()
    assert volume_rules(own).of("TOTA").is_beyond_belief(30, 20)
    assert not volume_rules(own).of("TOTA").is_beyond_belief(30, np.nan)


@pytest.mark.parametrize("height", [1.35, 1.41, 2.0, 3.0, 60.0])
def test_cones_of_any_height_are_believed(farm: Farm, height: float) -> None:
    """A cone of 10 cm at the ground holds a third of its cylinder, however thin it is at breast height."""
    dbh = 10.0 * (height - 1.3) / height
    cone = np.pi * 0.01 / 12 * height
    own = with_volumes(farm, species=["TOTA"], kind=["table"], dbh_cm=[dbh], volume_m3=[cone])
    assert stem_volume_m3(own, "TOTA", [dbh], [height]) == pytest.approx([cone])


def test_lines_that_say_too_little_are_named_and_left_out(farm: Farm) -> None:
    own = with_volumes(farm, species=["TOTA", "TOTA"], kind=["power", "form factor"], a=[0.1, np.nan])
    rules = volume_rules(own)
    assert stem_volume_m3(own, "TOTA", 30, 20) == pytest.approx(0.35 * G30 * 20)
    assert [note.startswith("Stem volumes, line") for note in rules.notes] == [True, True]


def table(by_height: bool = True) -> LocalTable:
    if not by_height:
        return LocalTable(np.array([10.0, 20, 40]), np.full(3, np.nan), np.array([0.1, 0.4, 1.6]))
    dbh = np.array([20.0, 20, 40, 40, 60])
    height = np.array([10.0, 20, 10, 20, 20])
    return LocalTable(dbh, height, np.array([0.1, 0.2, 0.5, 1.0, 2.4]))


def test_local_table_is_read_between_its_lines() -> None:
    found = table()
    assert found.at(20, 10) == pytest.approx(0.1)
    assert found.at(40, 20) == pytest.approx(1.0)
    assert found.at(30, 15) == pytest.approx((0.1 + 0.2 + 0.5 + 1.0) / 4)
    assert found.at([20, 40], [15, 12.5]) == pytest.approx([0.15, 0.625])
    assert found.at(50, 20) == pytest.approx(1.7)
    assert table(by_height=False).at([10, 15, 40], np.nan) == pytest.approx([0.1, 0.25, 1.6])


@pytest.mark.parametrize(("dbh", "height"), [(19.9, 15), (60.1, 20), (30, 9), (30, 20.5), (50, 15), (np.nan, 15)])
def test_local_table_says_nothing_beyond_its_lines(dbh: float, height: float) -> None:
    assert np.isnan(table().at(dbh, height))


def test_local_table_of_one_line() -> None:
    one = LocalTable(np.array([30.0]), np.array([np.nan]), np.array([0.7]))
    assert one.at(30, np.nan) == pytest.approx(0.7)
    assert np.isnan(one.at([29.9, 30.1], np.nan)).all()


def test_typed_stems() -> None:
    found = stems_typed("42,5 24 1,38\n\n30;20;0.5\n25\t18\t0.31\n20, 15, 0.2")
    assert [column.tolist() for column in found] == [[42.5, 30, 25, 20], [24, 20, 18, 15], [1.38, 0.5, 0.31, 0.2]]
    with pytest.raises(BadInput, match="line 2"):
        stems_typed("30 20 0.5\n30 20")


def test_own_equation_finds_the_equation_that_stems_follow() -> None:
    chance = np.random.default_rng(3)
    dbh, height = chance.uniform(10, 70, 40), chance.uniform(8, 35, 40)
    found = own_equation(dbh, height, 4e-5 * dbh**1.9 * height**1.1)
    assert (found.a, found.b, found.c) == pytest.approx((4e-5, 1.9, 1.1), rel=1e-6)


@pytest.mark.parametrize(
    ("dbh", "height", "volume", "words"),
    [
        ([30.0] * 5, [20.0] * 5, [0.5] * 5, "at least 8 stems"),
        ([30.0] * 9, [20.0] * 9, [0.5] * 9, "all are of one size"),
        ([30.0] * 8 + [0.0], [20.0] * 9, [0.5] * 9, "not above 0"),
    ],
)
def test_own_equation_is_refused(dbh: list[float], height: list[float], volume: list[float], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        own_equation(dbh, height, volume)
