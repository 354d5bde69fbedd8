from farmmap.farm.farm import new_farm
from farmmap.farm.species import Known, SpeciesFinder, known_species, plain


def test_the_list_that_comes_along_is_sound():
    known = known_species()
    for words in ([s.code for s in known], [plain(s.name) for s in known], [plain(s.scientific) for s in known]):
        assert len(set(words)) == len(words)
        assert all(words)
    for species in known:
        assert (species.crown_per_cm != species.crown_per_cm) or species.source


def test_a_species_is_found_by_code_trade_name_or_scientific_name(farm):
    finder = SpeciesFinder(farm.species)
    for text in ("TOTA", "tota", "Totara", "tōtara", " TŌTARA ", "podocarpus totara", "Podocarpus_totara"):
        assert finder.code_of(text) == "TOTA"
    assert finder.code_of("") == ""
    assert len(finder.added(farm.grid)) == 0


def test_a_known_species_joins_the_farms_own_list(farm):
    finder = SpeciesFinder(farm.species)
    code = finder.code_of("Pinus radiata")
    assert finder.code_of("radiata pine") == code
    added = finder.added(farm.grid)
    assert added["code"].tolist() == [code]
    assert added.index.tolist() == [3]
    assert finder.newly_named == []


def test_an_unknown_species_is_added_once_and_said():
    farm = new_farm("A", 2193)
    finder = SpeciesFinder(farm.species)
    assert finder.code_of("Grey Pipit Tree") == finder.code_of("grey  pipit tree") == "GREPIP"
    assert finder.code_of("Grey Pip Shrub") == "GREPIP2"
    assert finder.newly_named == ["Grey Pipit Tree", "Grey Pip Shrub"]
    assert finder.added(farm.grid)["name"].tolist() == ["Grey Pipit Tree", "Grey Pip Shrub"]


def test_a_kind_with_figures_of_its_own_is_known_by_its_names_or_added(farm):
    finder = SpeciesFinder(farm.species)
    nan = float("nan")
    assert finder.code_for(Known("X1", "lowland tōtara", "Podocarpus totara", "", nan, nan, "")) == "TOTA"
    assert finder.code_for(Known("", "coast redwood", "", "", nan, nan, "")) == "REDW"
    assert finder.code_for(Known("redw", "", "", "", nan, nan, "")) == "REDW"
    assert len(finder.added(farm.grid)) == 0
    fern = Known("TOTA", "river fern", "Fluvia pipita", "native", 0.5, 0.1, "seen by us")
    assert finder.code_for(fern) == finder.code_for(fern) == "RIVFER"
    assert finder.code_for(Known("RIVFER", "river fern", "Fluvia alta", "", nan, nan, "")) == "RIVFER2"
    assert finder.code_for(Known("REED", "reed of the bend", "", "", 0.2, nan, "")) == "REED"
    assert finder.code_for(Known("P9", "pine", "Pinus radiata", "", nan, nan, "")) == finder.code_of("radiata pine")
    added = finder.added(farm.grid)
    assert added["code"].tolist()[:3] == ["RIVFER", "RIVFER2", "REED"]
    assert added[["crown_base_m", "crown_per_cm", "source"]].iloc[0].tolist() == [0.5, 0.1, "seen by us"]
