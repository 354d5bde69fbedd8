"""Kinds of plants: found by any of their names, growth of each, and what comes with farmmap says it is a guess."""

from __future__ import annotations

import csv
import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.farm.species import known_species, plain
from farmmap.plans.planting.recipes.kinds import FORMS, GROWTH_YEARS, PlantKinds, plant_kinds, with_growth
from farmmap.plans.planting.recipes.recipe import PlantKind, Recipe
from farmmap.resource_files import resource_path


@pytest.fixture(scope="module")
def rows():
    with resource_path("plants.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_list_is_sound(rows):
    assert 25 <= len(rows) <= 60
    for key in ("code", "name", "scientific"):
        words = [plain(row[key]) for row in rows]
        assert all(words)
        assert len(set(words)) == len(words)
    assert {row["form"] for row in rows} == set(FORMS)
    for row in rows:
        crown = [float(row[f"crown_{year:g}_m"]) for year in GROWTH_YEARS]
        height = [float(row[f"height_{year:g}_m"]) for year in GROWTH_YEARS]
        assert crown == sorted(crown)
        assert height == sorted(height)
        assert crown[0] > 0
        assert crown[-1] <= 12
        assert height[0] > 0
        assert height[-1] <= 30


def test_no_figure_claims_a_source_that_was_not_read(rows):
    assert {row["source"] for row in rows} <= {"own rough guess, change it", "common practice, no source"}


def test_all_the_places_that_growers_asked_for_are_there(rows):
    for form in FORMS:
        grown = " ".join(row["native_to"] for row in rows if row["form"] == form)
        assert all(place in grown for place in ("New Zealand", "Australia", "Europe", "North America")), form


def test_it_agrees_with_the_list_of_species(rows):
    species = {known.code: known for known in known_species()}
    latin = {plain(known.scientific): known.code for known in known_species()}
    for row in rows:
        if row["code"] in species:
            known = species[row["code"]]
            assert (row["name"], row["scientific"]) == (known.name, known.scientific)
            assert row["native_to"] == known.native_to
        else:
            assert plain(row["scientific"]) not in latin


def test_every_name_finds_its_own_plant(rows):
    kinds = plant_kinds()
    for row in rows:
        for word in (row["code"], row["code"].lower(), row["name"].upper(), row["scientific"]):
            assert kinds.find(word).code == row["code"]
        for also in row["also"].split(";"):
            if also.strip():
                assert kinds.find(also).code == row["code"]
    for known in known_species():
        assert kinds.find(known.code).name == known.name
        assert kinds.find(known.scientific).code == known.code


def test_accents_need_not_be_typed():
    kinds = plant_kinds()
    assert kinds.find("totara") == kinds.find("Tōtara") == kinds.find(" PTOT ")
    assert kinds.find("Pukio").form == "sedge"
    assert kinds.find("") is None
    assert kinds.find("nothing grows by that name") is None


def test_a_tree_without_figures_gets_the_general_growth_and_says_so():
    yew = plant_kinds().find("yew")
    assert yew.years == GROWTH_YEARS
    assert yew.source.startswith("general growth of a tree, own rough guess")
    for form in FORMS:
        grown = with_growth(PlantKind("X", "x", form=form))
        assert len(grown.years) == len(grown.crown_m) == len(grown.height_m) > 0
        assert form in grown.source


def _with_species(farm, **columns):
    count = len(columns["code"])
    return farm.with_tables(species=shaped(TABLES["species"], columns, np.arange(1, count + 1), farm.grid))


def test_the_farms_own_list_goes_before_what_comes_with_farmmap(farm):
    listed = _with_species(
        farm,
        code=["TOTA", "CSEC", "MYST", "MANU"],
        name=["tōtara", "crack sedum", "mystery tree", "mānuka"],
        scientific=["Podocarpus totara", "Crassula secunda", "", ""],
        origin=["native", "introduced", "", "native"],
    )
    kinds = plant_kinds(listed)
    assert kinds.find("totara").code == "TOTA"
    assert kinds.find("totara").origin == "native"
    assert kinds.find("totara").crown_m == plant_kinds().find("PTOT").crown_m  # the same plant by its botanical name
    assert kinds.find("CSEC").name == "crack sedum"
    assert kinds.find("CSEC").source.startswith("general growth")  # another plant that has that code by chance
    assert kinds.find("pūkio").form == "sedge"  # still there under its name
    assert kinds.find("mystery tree").source.startswith("general growth of a tree")
    assert (kinds.find("manuka").code, kinds.find("manuka").form) == ("MANU", "shrub")
    assert kinds.known()[:4] == ["tōtara", "crack sedum", "mystery tree", "mānuka"]
    assert len(set(kinds.known())) == len(kinds.known())


def test_names_on_the_farms_list_are_told_so_that_they_can_be_printed(farm):
    values = {"code": ["OAK"], "name": ["oak\x07\nof old"], "scientific": ["Quercus\x1b robur"]}
    kind = plant_kinds(farm.with_tables(species=shaped(TABLES["species"], values, np.array([1]), farm.grid))).find(
        "OAK"
    )
    assert (kind.name, kind.scientific) == ("oak of old", "Quercus robur")


def test_the_recipes_own_kinds_go_before_all(farm):
    own = PlantKind("TOTA", "tōtara", form="shrub", years=(3.0,), crown_m=(2.0,), height_m=(1.0,), source="measured")
    bare = PlantKind("rush of mine", "rush of mine", form="sedge")
    kinds = plant_kinds(farm, Recipe("r", (), (), plants=(own, bare)))
    assert kinds.find("tota") == own
    assert kinds.find("Rush of mine").source.startswith("general growth of a sedge")
    assert kinds.find("Podocarpus totara").form == "tree"  # the farm's, by the name that the own one does not have
    assert kinds.known()[:2] == ["tōtara", "rush of mine"]


def test_near_names():
    kinds = plant_kinds()
    assert kinds.near("totora") == ["tōtara"]
    assert "matsudana willow" in kinds.near("willow")
    assert kinds.near("") == []
    assert kinds.near("qqqqqqqq") == []


@given(st.text(max_size=200))
def test_any_word_is_looked_up_without_fuss(word):
    kinds = plant_kinds()
    found = kinds.find(word)
    assert found is None or plain(word)
    assert all(kinds.find(name) is not None for name in kinds.near(word))


def test_every_known_name_is_found_and_stands_for_itself(farm):
    kinds = plant_kinds(farm)
    for name in kinds.known():
        assert kinds.find(name).name == name


def test_a_code_goes_before_a_name_within_a_list():
    first, second = PlantKind("A", "B"), PlantKind("B", "C")
    kinds = PlantKinds([(first, ()), (second, ("a",))])
    assert kinds.find("b") is second
    assert kinds.find("a") is first
    assert kinds.known() == ["C"]
    assert dataclasses.asdict(kinds.find("c"))["code"] == "B"


def test_a_word_of_a_recipe_has_a_code_and_a_name(farm):
    kinds = plant_kinds(farm)
    assert kinds.code_and_name("mānuka") == kinds.code_and_name("LSCO") == ("LSCO", "mānuka")
    assert kinds.code_and_name("never heard of") == ("never heard of", "never heard of")
