"""Texts of a recipe that no page could print are refused with their line; line breaks are blanks."""

from __future__ import annotations

import dataclasses

import pytest

from farmmap.plans.planting.recipes.printable import not_printed
from farmmap.plans.planting.recipes.recipe_file import recipe_as_text, recipe_from_text
from tests.plans.recipes.good_recipe import GOOD, faults


@pytest.mark.parametrize(
    "letter", ["\\u0007", "\\u001B[31m", "\\u0000", "\\u007F", "\\u0085\\u009B", "\\u202E", "\\uFEFF", "\\uFFFE"]
)
@pytest.mark.parametrize(
    ("name", "line"), [('title = "Ten', 1), ('name = "Edge', 5), ('species = "pukio', 10), ('stock = "Pole', 23)]
)
def test_characters_that_cannot_be_printed_are_refused_with_their_line(letter, name, line):
    found = faults(GOOD.replace(name, name + letter, 1))
    assert any(at == line and "cannot be printed; take it out" in words for at, words in found), found
    assert all(not_printed(words) == "" for _, words in found)


def test_line_breaks_and_tabs_within_a_text_are_blanks():
    recipe = recipe_from_text(
        'purpose = """shade,\n\n  and\thold"""\n' + GOOD.replace('"Edge"', '"The\\u2028 edge\\n"'), "r.toml"
    )
    assert recipe.purpose == "shade, and hold"
    assert recipe.zones[0].name == "The edge"
    found = faults(GOOD + '"a\\u0007b" = 1\n[rates]\n"\\u001Bx" = 2\n')
    assert [not_printed(words) for _, words in found] == ["", ""]


def test_a_recipe_made_elsewhere_is_written_so_that_it_can_be_read():
    recipe = dataclasses.replace(recipe_from_text(GOOD, "r.toml"), title="Te\x07n\n", purpose="a\x1b\ud800\tb")
    again = recipe_from_text(recipe_as_text(recipe), "again")
    assert (again.title, again.purpose) == ("Ten", "a b")
