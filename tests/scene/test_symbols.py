import itertools

import numpy as np

from farmmap.farm.farm import new_farm, shaped
from farmmap.farm.schema import TABLES
from farmmap.scene.symbols import MARKS, OKABE_ITO, SHAPES, YELLOW, species_symbols

# Okabe & Ito (2008), as eight RGB triples; black, the first, is kept for outlines.
PUBLISHED = {(230, 159, 0), (86, 180, 233), (0, 158, 115), (240, 228, 66), (0, 114, 178), (213, 94, 0), (204, 121, 167)}


def farm_with(names, codes=None, trees=()):
    farm = new_farm("Pipit Downs", "EPSG:2193")
    codes = codes or [f"S{number:03}" for number in range(len(names))]
    rows = np.arange(1, len(names) + 1)
    species = shaped(TABLES["species"], {"code": codes, "name": names}, rows, farm.grid)
    stems = np.arange(1, len(trees) + 1)
    grown = shaped(TABLES["trees"], {"species": list(trees), "x": stems * 1.0, "y": stems * 1.0}, stems, farm.grid)
    return farm.with_tables(species=species, trees=grown)


def test_the_palette_is_the_published_one():
    assert {tuple(int(colour[at : at + 2], 16) for at in (1, 3, 5)) for colour in OKABE_ITO} == PUBLISHED
    assert YELLOW in OKABE_ITO


def test_every_species_has_its_own_pair_of_colour_and_shape_up_to_42():
    symbols = list(species_symbols(farm_with([f"tree {n}" for n in range(42)])).values())[:42]
    assert len({(s.colour, s.shape) for s in symbols}) == 42
    assert all(s.mark == "" for s in symbols)


def test_more_species_than_pairs_stay_apart_by_a_mark():
    most = len(OKABE_ITO) * len(SHAPES) * len(MARKS)
    symbols = list(species_symbols(farm_with([f"tree {n}" for n in range(most)])).values())[:most]
    assert len({(s.colour, s.shape, s.mark) for s in symbols}) == most


def test_neighbours_in_the_list_differ_in_colour_and_in_shape():
    symbols = list(species_symbols(farm_with([f"tree {n}" for n in range(60)])).values())[:60]
    for one, other in itertools.pairwise(symbols):
        assert one.colour != other.colour
        assert one.shape != other.shape


def test_letters_are_short_and_each_alone():
    names = [
        "radiata pine",
        "redwood",
        "red beech",
        "rimu",
        "tōtara",
        "tawa",
        "titoki",
        "tree 1",
        "tree 2",
        "",
        "ō",
        "樹",
    ]
    symbols = species_symbols(farm_with(names))
    letters = [symbol.letter for symbol in symbols.values()]
    assert len(set(letters)) == len(letters)
    assert all(1 <= len(letter) <= 3 for letter in letters)
    assert symbols["S000"].letter == "R"
    assert symbols["S002"].letter == "Rb"


def test_symbols_do_not_change_when_trees_come_and_go():
    names = ["radiata pine", "redwood"]
    assert species_symbols(farm_with(names))["S001"] == species_symbols(farm_with(names, trees=["S001"] * 5))["S001"]


def test_trees_without_species_and_of_unlisted_ones_have_a_symbol():
    symbols = species_symbols(farm_with(["radiata pine"], trees=["ODD", "", "S000"]))
    assert set(symbols) == {"S000", "ODD", ""}
    assert symbols[""].letter == "?"
    assert symbols["ODD"].name == "ODD"
