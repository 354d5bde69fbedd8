"""What the grower is told: each caution once, the weightiest first, and none lost."""

from __future__ import annotations

import re

from shapely import LineString, box

from farmmap.farm.farm import shaped
from farmmap.farm.schema import TABLES
from farmmap.plans.planting.ground.stretch import Stretch
from farmmap.plans.planting.make import GUIDANCE, make_plan
from farmmap.plans.planting.outcome.cautions import CHECK, said_once
from farmmap.plans.planting.outcome.report import plan_report
from farmmap.plans.planting.outcome.words import plan_as_text
from farmmap.plans.planting.places.clearings import WORDS
from farmmap.plans.planting.recipes.recipe_file import recipe_from_text
from tests.place import EAST, NORTH

RECIPE = """
[[width]]
rule_set = "NZ dairy advice, natives"
[[zone]]
between_m = 2
within_m = 2
[[zone.plant]]
species = "mānuka"
"""


def crowded(farm):
    """A farm with a hazard of every kind beside its creek."""
    kinds = [kind for kind in WORDS if kind not in {"track", "other"}]
    shapes = [
        LineString([(EAST + 20 * at, NORTH - 32), (EAST + 20 * at, NORTH - 22)]).buffer(1) if kind == "building"
        else LineString([(EAST + 20 * at, NORTH - 32), (EAST + 20 * at, NORTH - 22)])
        for at, kind in enumerate(kinds, 1)
    ]  # fmt: skip
    values = {"name": kinds, "kind": kinds, "clear_m": [0.0] * len(kinds), "geometry": shapes}
    hazards = shaped(TABLES["hazards"], values, range(1, len(kinds) + 1), farm.grid)
    boundary = farm.boundary.copy()
    boundary["geometry"] = [box(EAST - 20, NORTH - 60, EAST + 220, NORTH - 24)]
    return farm.with_tables(hazards=hazards, boundary=boundary)


def test_each_caution_is_said_once_and_none_is_lost(farm):
    plan = make_plan(crowded(farm), Stretch("Sedge Creek", ("left",)), recipe_from_text(RECIPE, "r.toml"))
    assert sum(CHECK in note for note in plan.notes) >= 6
    said = plan_as_text(plan_report(plan))
    assert len(re.findall(CHECK, said, re.IGNORECASE)) == 1
    assert said.count("differs from place to place") == 1
    for words in (
        "ask a licensed practitioner, before you work in a waterway, spray beside it or touch protected vegetation",
        "NZ dairy advice, natives (",
        "guidance, not the law where you are.",
        "A power line is near: ",
        "Ask the lines company before planting or felling near it.",
        "A pipeline is near: ",
        "Ask before you dig.",
        "A drain is near: ",
        "A building is near: ",
        "only the thing itself is kept clear",
        "ask the neighbour.",
        "Mark the lines of others' pipes and wires before you dig.",
    ):
        assert words in said, words
    notes = plan_report(plan).notes
    assert notes[0] == GUIDANCE
    assert notes[1].startswith("A power line")
    assert notes[2].startswith("A pipeline")
    assert len(notes) == len(dict.fromkeys(notes))


BOUNDARY = "The farm's boundary is near and no distance from it is given: what is asked for differs from place to place"
DRAIN = "A drain is near: 1 m is kept clear"
DIFFERS = "what is asked for differs from place to place: check your local code"


def test_words_that_were_cut_read_on():
    given = (
        "A fence turns.",
        f"{BOUNDARY}: check your local code, and ask the neighbour.",
        f"{DRAIN}; {DIFFERS}. Leave one side open for the digger.",
        "Trees that stand there stay: keep off. Often protected; check your local code before any of it is felled.",
        "A rule (1999): guidance, not the law where you are: check your local code.",
        "A fence turns.",
        GUIDANCE,
    )
    assert said_once(given) == (
        GUIDANCE,
        "Trees that stand there stay: keep off. Often protected; ask before any of it is felled.",
        "A fence turns.",
        f"{BOUNDARY}; ask the neighbour.",
        f"{DRAIN}. Leave one side open for the digger.",
        "A rule (1999): guidance, not the law where you are.",
    )
    assert said_once(given[1:2]) == given[1:2]  # alone it is said in full
    assert said_once(()) == ()
