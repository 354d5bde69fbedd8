"""A recipe written as TOML; what is read back from it is the same recipe."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields

from farmmap.plans.planting.recipes.keys import FENCE, KIND, ORDER, RULE, RULE_ROW, SHARE, Holds, Key
from farmmap.plans.planting.recipes.limits import Span
from farmmap.plans.planting.recipes.printable import printable
from farmmap.plans.planting.recipes.recipe import Kin, Pattern, Recipe, SetBacks, Step, WidthRule, Zone
from farmmap.plans.planting.recipes.rule_set import RuleRow, RuleSet

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def recipe_as_text(recipe: Recipe) -> str:
    """Return a recipe as TOML, as docs/recipes.md describes it.

    Parameters
    ----------
    recipe : Recipe
        The recipe; its ``lines`` are left out.
    """
    texts = (("title", recipe.title), ("purpose", recipe.purpose), ("currency", recipe.currency))
    parts = [[_pair(key, value) for key, value in (*texts, ("seed", recipe.seed))]]
    parts += [["[[width]]", *_width(rule)] for rule in recipe.widths]
    for zone in recipe.zones:
        parts.append(["[[zone]]", *_zone(zone)])
        parts += [["[[zone.plant]]", *_plant(kin)] for kin in zone.mix]
    parts += _set_backs(recipe.set_backs)
    parts.append(["[fence]", *_all_of(recipe.fence, FENCE)])
    parts += [[f"[order.{_key(stock)}]", *_all_of(order, ORDER)] for stock, order in recipe.orders.items()]
    parts += _money("rates", recipe.rates)
    parts += [[f"[shares.{_key(kind or 'others')}]", *_all_of(share, SHARE)] for kind, share in recipe.shares.items()]
    parts += _money("prices", recipe.prices)
    parts += [["[[kind]]", *_all_of(kind, KIND)] for kind in recipe.plants]
    parts += [lines for rule in recipe.rule_sets for lines in _rule(rule)]
    return "\n\n".join("\n".join(lines) for lines in parts) + "\n"


def _width(rule: WidthRule) -> list[str]:
    lines: list[str] = []
    if rule.width_m is not None:
        lines.append(_pair("width_m", rule.width_m))
    for key, limit, steps in (("by_channel", "up_to_m", rule.by_channel), ("by_slope", "up_to_deg", rule.by_slope)):
        if steps:
            lines += [f"{key} = [", *(f"  {_step(limit, step)}," for step in steps), "]"]
    lines += [_pair(key, text) for key, text in (("rule_set", rule.rule_set), ("purpose", rule.purpose)) if text]
    if rule.to_fence:
        lines.append(_pair("to_fence", value=True))
    return lines + [_pair(key, getattr(rule, key)) for key in ("slope_within_m", "least_m", "most_m")]


def _rule(rule: RuleSet) -> Iterable[list[str]]:
    texts = [key for key in RULE[1:] if key.holds is Holds.TEXT]
    yield ["[[rule]]", _pair("rule_set", rule.name), *_all_of(rule, texts)]
    for row in rule.rows:
        yield ["[[rule.row]]", *_rule_row(row)]


def _rule_row(row: RuleRow) -> Iterable[str]:
    """Yield what a line of a rule says; what it leaves out is left out."""
    for key in RULE_ROW:
        value = getattr(row, key.name)
        said = value.words if isinstance(value, Span) else value
        if said or key.name == "width_m":
            yield _pair(key.name, said)


def _step(limit: str, step: Step) -> str:
    upper = "" if step.up_to is None else f"{_pair(limit, step.up_to)}, "
    return f"{{ {upper}{_pair('width_m', step.width_m)} }}"


def _zone(zone: Zone) -> list[str]:
    lines = [_pair("name", zone.name)]
    lines += [_pair(key, number) for key in ("share", "width_m") if (number := getattr(zone, key)) is not None]
    lines.append(_pair("pattern", zone.pattern.value))
    if zone.pattern is not Pattern.NONE:
        one = zone.between_m == zone.within_m and zone.pattern not in {Pattern.ROWS, Pattern.CONTOUR}
        lines += [_pair(key, getattr(zone, key)) for key in ("between_m", "within_m") if not one]
        lines += [_pair("spacing_m", zone.between_m)] if one else []
    return lines + [
        _pair(key, getattr(zone, key)) for key in ("groups_of", "headland_m", "turn_m", "reason", "harvest")
    ]


def _plant(kin: Kin) -> list[str]:
    return [_pair(key, getattr(kin, key)) for key in ("species", "share", "stock", "reason")]


def _set_backs(set_backs: SetBacks) -> Iterable[list[str]]:
    """Yield the distances, then where each comes from; "" where nothing is known of that."""
    usual = SetBacks()
    keys = [attribute.name for attribute in fields(SetBacks) if attribute.name != "source"]
    lines = ["[set_backs]"]
    told: list[str] = []
    for key in keys:
        distance = getattr(set_backs, key)
        if distance is not None:
            lines.append(_pair(key, distance))
        elif getattr(usual, key) is not None:
            lines.append(_pair(key, "none"))
        if distance is not None or getattr(usual, key) is not None or key in set_backs.source:
            told.append(_pair(key, set_backs.source.get(key, "")))
    return [lines, ["[set_backs.source]", *told]]


def _money(table: str, sums: Mapping[str, float]) -> list[list[str]]:
    return [[f"[{table}]", *(_pair(name, money) for name, money in sums.items())]] if sums else []


def _all_of(part: object, keys: Sequence[Key]) -> list[str]:
    return [_pair(key.name, getattr(part, key.name)) for key in keys]


def _pair(key: str, value: object) -> str:
    return f"{_key(key)} = {_value(value)}"


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _quoted(key)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, tuple):
        return f"[{', '.join(_value(one) for one in value)}]"
    if isinstance(value, float):
        short = f"{value:g}"
        return short if float(short) == value else repr(value)
    return str(value)


def _quoted(text: str) -> str:
    return json.dumps(printable(text), ensure_ascii=False)
