"""Target diameters: the farm's own before the usual ones, found by species however it is written."""

import csv

import numpy as np
import pytest

from farmmap.editing.targets import target_removed, target_set
from farmmap.errors import BadInput
from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.farm.species import known_species
from farmmap.figures.growth.targets import OWN, one_target, target_cm_of, targets_of, usual_targets
from farmmap.resource_files import resource_path


def with_targets(farm, *rows):
    species, product, dbh = zip(*rows, strict=True)
    values = {"species": list(species), "product": list(product), "dbh_cm": list(dbh)}
    return farm.with_tables(targets=shaped(TABLES["targets"], values, np.arange(1, len(rows) + 1), farm.grid))


def test_usual_targets_are_of_known_species_and_say_their_source():
    codes = {known.code for known in known_species()}
    with resource_path("targets.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len({row["code"] for row in rows}) == len(rows) == len(usual_targets())
    for row in rows:
        assert row["code"] in codes
        assert row["source"]
        assert row["note"]
        assert 20 <= float(row["least_cm"]) <= float(row["dbh_cm"]) <= float(row["most_cm"]) <= 120


def test_own_targets_go_before_that_for_all_others_and_that_before_the_usual(farm):
    assert targets_of(farm).of("REDW") is None
    mine = with_targets(farm, ("tōtara", "native timber", 50.0), ("", "sawlog", 60.0))
    assert targets_of(mine).of("TOTA").dbh_cm == 50.0
    assert targets_of(mine).of("TOTA").source == OWN
    assert targets_of(mine).of("REDW").dbh_cm == 60.0
    assert targets_of(mine).of("").dbh_cm == 60.0
    assert target_cm_of(targets_of(mine), ("TOTA", "REDW")).tolist() == [50.0, 60.0]
    only = with_targets(farm, ("TOTA", "", 50.0))
    assert np.isnan(target_cm_of(targets_of(only), ("REDW",)))[0]


def test_the_usual_target_is_found_by_the_scientific_name_whatever_the_code(farm):
    species = farm.species.copy()
    species["code"] = ["PRAD", "RP"]
    species["name"] = ["tōtara", "our pine"]
    species["scientific"] = ["Podocarpus totara", "Pinus radiata"]
    found = targets_of(farm.with_tables(species=species))
    assert found.of("RP").dbh_cm == usual_targets()["PRAD"].dbh_cm
    assert found.of("PRAD") is None


def test_of_several_products_the_first_counts_or_the_one_asked_for(farm):
    mine = with_targets(farm, ("TOTA", "post", 25.0), ("totara", "Sawlog", 55.0))
    assert targets_of(mine).of("TOTA").dbh_cm == 25.0
    assert targets_of(mine, "sawlog").of("TOTA").dbh_cm == 55.0
    assert targets_of(mine, "veneer").of("TOTA").dbh_cm == 25.0


def test_a_target_is_set_changed_and_taken_away_in_one_edit_each(farm):
    first = target_set(farm, "REDW", "70", "pruned log").edit
    assert first.name == "Set target of coast redwood to 70 cm"
    one = first.apply(farm)
    assert one.tables["targets"]["dbh_cm"].tolist() == [70.0]
    second = target_set(one, "coast redwood", 65.5, "Pruned log", note="for the mill").edit
    two = second.apply(one)
    assert two.tables["targets"][["species", "dbh_cm", "note"]].to_numpy().tolist() == [["REDW", 65.5, "for the mill"]]
    assert targets_of(two).of("REDW").dbh_cm == 65.5
    assert second.turned_round().apply(two).tables["targets"].equals(one.tables["targets"])
    gone = target_removed(two, targets_of(two).of("REDW").row).edit
    assert gone.name == "Take away target of coast redwood"
    assert len(gone.apply(two).tables["targets"]) == 0
    three = target_set(two, "", 40).edit
    assert three.name == "Set target of every other species to 40 cm"
    assert targets_of(three.apply(two)).of("TOTA").dbh_cm == 40.0


@pytest.mark.parametrize(
    ("species", "dbh", "words"),
    [
        ("no such tree", 50, "no species 'no such tree'"),
        ("REDW", 5000, "1 to 400 cm is believable"),
        ("REDW", "thick", "no number"),
        ("REDW", "", "is empty"),
        ("REDW", float("nan"), "is empty"),
    ],
)
def test_bad_targets_are_refused_in_words(farm, species, dbh, words):
    with pytest.raises(BadInput, match=words):
        target_set(farm, species, dbh)


def test_nothing_is_changed_if_nothing_differs_or_the_line_is_gone(farm):
    mine = with_targets(farm, ("REDW", "", 50.0))
    with pytest.raises(BadInput, match="50 cm already"):
        target_set(mine, "REDW", 50)
    with pytest.raises(BadInput, match="not there any more"):
        target_removed(mine, 9)


def test_one_target_for_a_question_asked_once():
    assert one_target(60).of("ANY").dbh_cm == 60.0
    with pytest.raises(BadInput, match="between 1 and 400 cm"):
        one_target(0.2)
    with pytest.raises(BadInput, match="between 1 and 400 cm"):
        one_target(float("nan"))
