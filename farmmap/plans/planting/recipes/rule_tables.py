"""Width rules that a recipe brings along itself: reading them, and taking a grower's own in from beside it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from farmmap.errors import BadInput
from farmmap.farm.species import plain
from farmmap.plans.planting.recipes.keys import RULE, RULE_ROW
from farmmap.plans.planting.recipes.limits import ANY, Span, span_from_words
from farmmap.plans.planting.recipes.recipe import WidthRule
from farmmap.plans.planting.recipes.rule_set import RuleRow, RuleSet
from farmmap.plans.planting.recipes.table_reading import MOST_IN_LIST, Reader, Said
from farmmap.plans.planting.recipes.toml_lines import Path


def rules(reader: Reader, value: object) -> tuple[RuleSet, ...]:
    """Return the width rules that the recipe brings along itself."""
    found: list[RuleSet] = []
    for inside, path in reader.tables(value, ("rule",)):
        said = reader.table(inside, RULE, path)
        name = said.text("rule_set")
        if name:
            reader.titles[path] = f"rule '{name[:60]}'"
        elif "rule_set" in said.sound or "rule_set" not in said.named:
            reader.fault(path, 'has no name; say what the rule is called: rule_set = "…"')
        if name and any(plain(rule.name) == plain(name) for rule in found):
            reader.fault(path, "another rule of the recipe has that name already; choose another")
        if "row" not in said.named or said.raw("row") == []:
            reader.fault(path, "has no line; add a [[rule.row]] with a width_m")
        rows = [_row(reader, row, at) for row, at in reader.tables(said.sound.get("row", []), (*path, "row"))]
        place, source, year, datum = (said.text(key) for key in ("place", "source", "year", "datum"))
        found.append(RuleSet(name, place, source, year, datum, tuple(rows), own=True))
    return tuple(found)


def _row(reader: Reader, value: object, path: Path) -> RuleRow:
    said = reader.table(value, RULE_ROW, path)
    if isinstance(value, dict) and "width_m" not in said.named:
        reader.fault(path, "has no width_m")
    if said.number("over_percent") and not said.number("more_m_per_percent"):
        reader.fault(path, "gives over_percent without more_m_per_percent; say how many metres more for each per cent")
    return RuleRow(
        purpose=said.text("purpose"),
        condition=said.text("condition"),
        channel_m=_span(reader, said, "channel_m"),
        slope_deg=_span(reader, said, "slope_deg"),
        slope_percent=_span(reader, said, "slope_percent"),
        stream_order=_span(reader, said, "stream_order"),
        width_m=said.number("width_m") or 0.0,
        more_m_per_percent=said.number("more_m_per_percent") or 0.0,
        over_percent=said.number("over_percent") or 0.0,
    )


def _span(reader: Reader, said: Said, key: str) -> Span:
    try:
        return span_from_words(said.text(key), key)
    except BadInput as error:
        reader.fault((*said.path, key), str(error).removeprefix(f"{key} "))
        return ANY


def known_rules(own: Iterable[RuleSet], others: Mapping[str, RuleSet]) -> dict[str, RuleSet]:
    """Return all rules by name; one that the recipe brings along takes the place of another of its name."""
    brought = {rule.name: rule for rule in own if rule.name}
    called = {plain(name) for name in brought}
    return brought | {name: rule for name, rule in others.items() if plain(name) not in called}


def brought_along(
    reader: Reader, own: tuple[RuleSet, ...], margin: Iterable[WidthRule], known: Mapping[str, RuleSet]
) -> tuple[RuleSet, ...]:
    """Return the recipe's rules, and those of the grower's own file that a width goes by.

    A plan that is kept does without that file then.
    """
    there = {rule.name for rule in own}
    more: dict[str, RuleSet] = {}
    for place, width in enumerate(margin):
        rule = known.get(width.rule_set)
        if rule is None or not rule.own or rule.name in there | more.keys():
            continue
        if len(rule.rows) > MOST_IN_LIST:
            reader.fault(
                ("width", place, "rule_set"),
                f"'{rule.name}' has {len(rule.rows)} lines; a recipe can bring {MOST_IN_LIST} along at most",
            )
        more[rule.name] = replace(rule, rows=tuple(replace(row, line=0) for row in rule.rows))
    return (*own, *more.values())
