"""The list of species that comes with farmmap."""

from __future__ import annotations

from collections import Counter

import pytest

from farmmap.farm.farm import empty_table
from farmmap.farm.grids import Grid
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
