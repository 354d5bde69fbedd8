"""A recipe for a planting as a TOML file: reading it with all its faults told at once. docs/recipes.md describes it.

`tomllib` reads the text, `toml_lines` finds the lines, `keys` describes
each key, and `smaller_parts` and `zone_tables` make the values.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from farmmap.plans.planting.recipes import smaller_parts as parts
from farmmap.plans.planting.recipes.as_toml import recipe_as_text
from farmmap.plans.planting.recipes.faults import Fault, RecipeError
from farmmap.plans.planting.recipes.keys import TOP
from farmmap.plans.planting.recipes.kinds import PlantKinds, plant_kinds, with_growth
from farmmap.plans.planting.recipes.recipe import PlantKind, Recipe
from farmmap.plans.planting.recipes.rule_set import RuleSet
from farmmap.plans.planting.recipes.rule_tables import brought_along, known_rules
from farmmap.plans.planting.recipes.rule_tables import rules as own_rules
from farmmap.plans.planting.recipes.rules import rule_sets as published_rule_sets
from farmmap.plans.planting.recipes.table_reading import Reader
from farmmap.plans.planting.recipes.toml_lines import Path as KeyPath
from farmmap.plans.planting.recipes.toml_lines import key_lines
from farmmap.plans.planting.recipes.width_tables import check_room, widths
from farmmap.plans.planting.recipes.written_text import written_text
from farmmap.plans.planting.recipes.zone_tables import ZoneReader

__all__ = ["Fault", "RecipeError", "own_rules_beside", "read_recipe", "recipe_as_text", "recipe_from_text"]

OWN_RULES = "margin_rules.csv"
"""Name of the file of a grower's own width rules, in the folder of the recipe."""

Known = Callable[[str], PlantKind | None]

_AT_LINE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")
_RENAMED = {"width": "widths", "zone": "zones", "kind": "plants", "order": "orders", "rule": "rule_sets"}
_PLAINER = {
    "Expected '=' after a key in a key/value pair": "there is no = after the key; write key = value",
    "Invalid value": "what stands after = is neither a number, true, false, a list, nor a text in quotes",
    "Expected newline or end of document after a statement": "there is something behind the value; texts go in quotes",
    "Cannot overwrite a value": "this key stands there twice; take one out",
    "Cannot declare": "this part stands there already; put both together, or begin each with [[",
    "Illegal character '\\n'": "the quotes are not closed on this line",
    "Illegal character": "this character cannot stand here",
    "Invalid statement": "this is no key = value and no [table]; begin a remark with #",
    "Unterminated string": "the quotes are not closed",
    "Unclosed array": "the square bracket is not closed",
    "Unclosed inline table": "the curly bracket is not closed",
}


def own_rules_beside(path: Path) -> Path | None:
    """Return the grower's own width rules in the folder of a recipe, None if there are none."""
    beside = path.parent / OWN_RULES
    return beside if beside.is_file() else None


def read_recipe(path: Path, known: Known | None = None, rule_sets: Mapping[str, RuleSet] | None = None) -> Recipe:
    """Return the recipe that a file holds.

    Parameters
    ----------
    path : Path
        The file.
    known : callable, optional
        Finds a kind of plant by code or name (`PlantKinds.find`); those that come with farmmap if not given.
    rule_sets : mapping of str to RuleSet, optional
        Width rules that may be named; the published ones and those of ``margin_rules.csv`` beside the recipe if not
        given. Those of the grower's own that a width names are brought along in the recipe.

    Raises
    ------
    RecipeError
        The recipe cannot be used; all faults are told.
    BadInput
        The file is missing or no text, or the grower's own width rules cannot be used.
    """
    text = written_text(path, "recipe")
    if rule_sets is None:
        rule_sets = published_rule_sets(own_rules_beside(path))
    return recipe_from_text(text, str(path), known, rule_sets)


def recipe_from_text(
    text: str, where: str, known: Known | None = None, rule_sets: Mapping[str, RuleSet] | None = None
) -> Recipe:
    """Return the recipe that a text in TOML holds.

    Parameters
    ----------
    text : str
        The recipe.
    where : str
        Name of its file, for messages.
    known, rule_sets
        As for `read_recipe`.

    Raises
    ------
    RecipeError
        The recipe cannot be used; all faults are told.
    """
    try:
        document = tomllib.loads(text)
        lines = key_lines(text)
    except tomllib.TOMLDecodeError as error:
        raise RecipeError(where, [_not_toml(str(error), text)]) from error
    except (ValueError, RecursionError) as error:  # a number of thousands of figures, brackets in hundreds of brackets
        raise RecipeError(
            where, [Fault(0, "", "it holds a number or brackets of no sense; is it a recipe?")]
        ) from error
    shipped = plant_kinds()
    find = known or shipped.find
    reader = Reader(lines)

    def near(word: str) -> Sequence[str]:
        return [name for name in shipped.near(word) if find(name) is not None]

    recipe = _recipe(reader, document, find, near, published_rule_sets() if rule_sets is None else rule_sets)
    if reader.faults:
        raise RecipeError(where, reader.faults)
    return recipe


def _recipe(
    reader: Reader,
    document: object,
    find: Known,
    near: Callable[[str], Sequence[str]],
    rule_sets: Mapping[str, RuleSet],
) -> Recipe:
    said = reader.table(document, TOP, ())
    own = parts.kinds(reader, said.sound.get("kind", []))
    brought = own_rules(reader, said.sound.get("rule", []))
    known = known_rules(brought, rule_sets)
    before = len(reader.faults)
    margin = widths(reader, said.sound.get("width", []), known)
    width_is_sound = len(reader.faults) == before
    zone_reader = ZoneReader(reader, PlantKinds([(with_growth(kind), ()) for kind in own]), find, near)
    zones = zone_reader.zones(said.sound.get("zone", []))
    for key, shown, made in (("width", "[[width]]", margin), ("zone", "[[zone]]", zones)):
        if key not in said.named or (not made and said.raw(key) == []):
            reader.fault((key,), f"there is no {shown} in the recipe; add one, see docs/recipes.md")
    if width_is_sound:
        check_room(reader, margin, zones)
    prices: dict[str, float] = {}
    for word, price in parts.prices(reader, said.sound.get("prices", {})).items():
        species = zone_reader.species(word.strip(), ("prices", word))
        if species in prices:
            reader.fault(("prices", word), f"{species} has a price already; take one out")
        prices[species] = price
    seed = said.sound.get("seed", 1)
    assert isinstance(seed, int)  # as its key is described
    return Recipe(
        said.text("title", "Planting"),
        margin,
        zones,
        said.text("purpose"),
        parts.set_backs(reader, said.sound.get("set_backs", {})),
        parts.fence(reader, said.sound.get("fence", {})),
        parts.orders(reader, said.sound.get("order", {})),
        parts.rates(reader, said.sound.get("rates", {})),
        parts.shares(reader, said.sound.get("shares", {})),
        plants=own,
        prices=prices,
        currency=said.text("currency", "$"),
        seed=seed,
        rule_sets=brought_along(reader, brought, margin, known),
        lines=_recipe_lines(reader.lines),
    )


def _recipe_lines(lines: Mapping[KeyPath, int]) -> dict[str, int]:
    """Return lines by the names that the values have: ``zones.0.mix.1.share``."""
    named: dict[str, int] = {}
    for path, line in lines.items():
        steps = [str(step) for step in path]
        if steps[0] in {"width", "zone", "kind", "rule"} and len(path) > 1 and not isinstance(path[1], int):
            steps.insert(1, "0")  # a single one written as [zone]
        steps[0] = _RENAMED.get(steps[0], steps[0])
        if steps[0] == "zones" and len(steps) > 2 and steps[2] == "plant":
            steps[2] = "mix"
            if len(steps) > 3 and not steps[3].isdigit():
                steps.insert(3, "0")
        if steps[0] == "zones" and steps[-1] == "percent":
            steps[-1] = "share"
        named[".".join(steps)] = line
    return named


def _not_toml(message: str, text: str) -> Fault:
    """Return the fault behind a message of `tomllib`, in plainer words where it is a common one."""
    at = _AT_LINE.search(message)
    said = message[: at.start()] if at else message
    plainer = next((words for begin, words in _PLAINER.items() if said.startswith(begin)), f"{said} (as TOML reads it)")
    if at and at.group(1):
        if said.startswith("Cannot overwrite") and text.split("\n")[int(at.group(1)) - 1].lstrip().startswith("["):
            plainer = "it was begun above in another way; write each [[zone]] before its own [[zone.plant]]"
        return Fault(int(at.group(1)), f"column {at.group(2)}", plainer)
    unfinished = "the file ends before this is complete; is a bracket or a text not closed"
    return Fault(text.rstrip().count("\n") + 1, "the last of the file", f"{unfinished}? ({said})")
