"""The list of species that comes with farmmap."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from farmmap.farm.farm import empty_table, shaped
from farmmap.farm.grids import Grid
from farmmap.farm.schema import SPECIES
from farmmap.farm.species import SpeciesFinder, known_species, plain


def test_no_word_stands_for_two_species():
    words = Counter(
        word
        for known in known_species()
        for word in {plain(name) for name in (known.code, known.name, known.scientific, *known.also)}
    )
    assert [word for word, times in words.items() if times > 1] == []


def test_every_species_is_complete():
    assert len(known_species()) >= 60
    for known in known_species():
        assert len(known.code) == 4
        assert known.code.isupper()
        assert len(known.scientific.split()) >= 2
        assert known.native_to
        assert (known.crown_per_cm == known.crown_per_cm) <= bool(known.source)


def test_origin_is_left_to_the_farm():
    assert {known.origin for known in known_species()} == {""}


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("totara", "PTOT"), ("Tōtara", "PTOT"), ("manuka", "LSCO"), ("kānuka", "KROB"), ("ti kouka", "CAUS"),
        ("Cabbage tree", "CAUS"), ("douglas fir", "PSME"), ("Coast Redwood", "SSEM"), ("redwood", "SSEM"),
        ("pinus radiata", "PRAD"), ("English oak", "QROB"), ("macrocarpa", "HMAC"), ("Cupressus lusitanica", "HLUS"),
        ("Populus x canadensis", "PCAN"), ("Picea abies", "PABI"), ("shagbark hickory", "COVA"), ("white oak", "QALB"),
    ],
)  # fmt: skip
def test_found_as_people_write_it(written, code):
    finder = SpeciesFinder(empty_table("species", Grid(2193)))
    assert finder.code_of(written) == code
    assert finder.newly_named == []


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("Pinus_radiata_D.Don", "PRAD"), ("Pinus radiata D. Don", "PRAD"), ("Quercus robur L.", "QROB"),
        ("Quercus_robur", "QROB"), ("Populus x canadensis Moench", "PCAN"), ("Populus ×canadensis", "PCAN"),
        ("Populus canadensis", "PCAN"), ("Pinus nigra subsp. laricio", "PNIC"), ("Pinus nigra var. austriaca", "PNIC"),
        ("Cupressus macrocarpa Hartw.", "HMAC"), ("Q. robur", "QROB"), ("Q robur", "QROB"), ("Pi. nigra", "PNIC"),
    ],
)  # fmt: skip
def test_authors_varieties_and_short_genera_do_not_hide_a_scientific_name(written, code):
    finder = SpeciesFinder(empty_table("species", Grid(2193)))
    assert finder.code_of(written) == code
    assert finder.newly_named == []


@pytest.mark.parametrize("written", ["P. nigra", "Q. elderwood", "Pinus", "radiata seedling pine", "Quercus sp."])
def test_a_name_that_fits_several_or_none_is_a_species_of_its_own(written):
    finder = SpeciesFinder(empty_table("species", Grid(2193)))
    finder.code_of(written)
    assert finder.newly_named == [written]


def test_the_farms_own_scientific_names_win():
    grid = Grid(2193)
    own = shaped(SPECIES, {"code": ["OAK"], "name": ["oak"], "scientific": ["Quercus robur"]}, np.array([1]), grid)
    finder = SpeciesFinder(own)
    assert [finder.code_of(name) for name in ("Quercus robur L.", "Q. robur")] == ["OAK", "OAK"]
