"""Width rules that a recipe brings along itself: read, written and told with their lines."""

from __future__ import annotations

import numpy as np
import pytest

from farmmap.plans.planting.recipes.recipe_file import recipe_as_text, recipe_from_text
from farmmap.plans.planting.recipes.rules import rule_sets_from_text, width_by_rule
from tests.plans.recipes.good_recipe import GOOD, faults, same

RULE = """\
[[rule]]
rule_set = "Pipit county"
place = "Pipit"
[[rule.row]]
channel_m = "over 1 under 3.25"
width_m = 4
[[rule.row]]
channel_m = "from 3.25"
slope_percent = "up to 20"
width_m = 6.5
more_m_per_percent = 0.1
over_percent = 5
"""


def test_a_rule_that_the_recipe_brings_along():
    text = GOOD.replace("width_m = 10", 'rule_set = "pipit COUNTY"') + RULE
    recipe = recipe_from_text(text, "r.toml")
    assert recipe.widths[0].rule_set == "Pipit county"
    (rule,) = recipe.rule_sets
    assert [(row.channel_m.words, row.slope_percent.words, row.width_m) for row in rule.rows] == [
        ("over 1 under 3.25", "", 4.0),
        ("from 3.25", "up to 20", 6.5),
    ]
    assert width_by_rule(rule, "", [2, 3.25, 3.25], [0, 0, np.degrees(np.arctan(0.1))]) == pytest.approx([4, 6.5, 7])
    assert same(recipe_from_text(recipe_as_text(recipe), "again"), recipe)
    assert recipe.lines["rule_sets.0.row.1.width_m"] == 41


def test_a_rule_of_the_recipe_goes_before_others_of_its_name():
    text = GOOD.replace("width_m = 10", 'rule_set = "NZ stock exclusion"') + RULE.replace(
        "Pipit county", "NZ stock Exclusion"
    )
    recipe = recipe_from_text(
        text, "r.toml", None, rule_sets_from_text("rule_set,width_m\nNZ stock exclusion,9\n", "x")
    )
    assert recipe.widths[0].rule_set == "NZ stock Exclusion"
    assert len(recipe.rule_sets) == 1


def test_an_own_rule_of_very_many_lines_is_not_brought_along():
    own = rule_sets_from_text(
        "rule_set,width_m,condition\n" + "".join(f"Long,5,{n}\n" for n in range(201)), "x", own=True
    )
    (fault,) = faults(GOOD.replace("width_m = 10", 'rule_set = "Long"'), rule_sets=own)
    assert fault[0] == 3
    assert "'Long' has 201 lines; a recipe can bring 200 along at most" in fault[1]


@pytest.mark.parametrize(
    ("old", "new", "line", "told"),
    [
        ('rule_set = "Pipit county"', "", 32, "has no name"),
        ('rule_set = "Pipit county"', 'rule_set = ""', 32, "has no name"),
        ("width_m = 4", "", 35, "rule 'Pipit county', row 1: has no width_m"),
        ("width_m = 4", "width_m = 501", 37, "500 at most"),
        ('"over 1 under 3.25"', "3", 36, "must be a text in quotes"),
        ('"over 1 under 3.25"', '"up to three"', 36, "channel_m: 'three' is not a number"),
        ('"over 1 under 3.25"', '"above 1"', 36, "channel_m: is 'above 1'; write 'over 3'"),
        ('"over 1 under 3.25"', '"over 3 under 2"', 36, "nothing lies between those limits"),
        ("more_m_per_percent = 0.1", "", 38, "gives over_percent without more_m_per_percent"),
        ('[[rule.row]]\nchannel_m = "from', "[[rule]]\nrule_set = 'pipit  county'\nchannel_m = \"from", 38, "already"),
        (RULE[RULE.index("[[rule.row]]") :], "", 32, "has no line; add a [[rule.row]]"),
        (RULE[RULE.index("[[rule.row]]") :], "row = 3\n", 35, "rule 'Pipit county', row: must be a table, not 3"),
    ],
)
def test_a_rule_that_cannot_work_is_told_with_its_line(old, new, line, told):
    assert old in RULE
    found = faults(GOOD + RULE.replace(old, new, 1))
    assert any(at == line and told in words for at, words in found), found


def test_rules_without_a_name_are_not_told_that_they_share_one():
    nameless = '[[rule]]\nplace = "Pipit"\n[[rule.row]]\nwidth_m = 4\n'
    said = [words for _, words in faults(GOOD + nameless + nameless)]
    assert len(said) == 2
    assert all("has no name" in words for words in said)
