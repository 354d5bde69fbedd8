"""Widths of a recipe from what a file says, and whether its zones can have room in them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence

from farmmap.errors import BadInput
from farmmap.plans.planting.recipes.keys import CHANNEL_STEP, SLOPE_STEP, WIDTH, Key
from farmmap.plans.planting.recipes.recipe import Step, WidthRule, Zone
from farmmap.plans.planting.recipes.rule_set import RuleSet
from farmmap.plans.planting.recipes.table_reading import Reader, Said
from farmmap.plans.planting.recipes.toml_lines import Path
from farmmap.plans.planting.recipes.zone_tables import ROUNDING

_WAYS = ("width_m", "by_channel", "by_slope", "rule_set", "to_fence")


def widths(reader: Reader, value: object, rule_sets: Mapping[str, RuleSet]) -> tuple[WidthRule, ...]:
    """Return the ways in which the margin's width is said."""
    return tuple(_width(reader, inside, path, rule_sets) for inside, path in reader.tables(value, ("width",)))


def _width(reader: Reader, value: object, path: Path, rule_sets: Mapping[str, RuleSet]) -> WidthRule:
    said = reader.table(value, WIDTH, path)
    ways = [way for way in _WAYS if way in said.named and said.sound.get(way, True) is not False]
    if len(ways) != 1:
        many = f"says {', '.join(ways)} at once" if ways else "does not say how wide"
        reader.fault(path, f"{many}; give one of {', '.join(_WAYS)}, and a further [[width]] for another way")
    rule_set, purpose = said.text("rule_set"), said.text("purpose")
    if "rule_set" in said.sound:
        rule_set, purpose = _rule(reader, said, rule_sets)
    elif purpose and "rule_set" not in said.named:
        reader.fault((*path, "purpose"), "goes with a rule_set only; the purpose of the planting stands at the top")
    rest = {key: said.sound[key] for key in ("slope_within_m", "least_m", "most_m") if key in said.sound}
    rule = WidthRule(
        said.number("width_m"),
        _steps(reader, said, "by_channel", CHANNEL_STEP),
        _steps(reader, said, "by_slope", SLOPE_STEP),
        rule_set,
        purpose,
        said.sound.get("to_fence") is True,
    )
    rule = dataclasses.replace(rule, **rest)  # type: ignore[arg-type]  # as their keys are described
    if rule.least_m > rule.most_m:
        reader.fault((*path, "least_m"), f"is {rule.least_m:g}, wider than most_m, {rule.most_m:g}")
    return rule


def _rule(reader: Reader, said: Said, rule_sets: Mapping[str, RuleSet]) -> tuple[str, str]:
    """Return the name of the rule and of its purpose as the rule writes them."""
    path = (*said.path, "rule_set")
    name = reader.word(said.text("rule_set"), rule_sets, path, "rule that farmmap or your own file knows")
    if name is None:
        return "", ""
    rule = rule_sets[name]
    purpose = said.text("purpose")
    if purpose and any(rule.purposes):
        kinds = [kind for kind in rule.purposes if kind]
        return name, reader.word(purpose, kinds, (*said.path, "purpose"), f"purpose of '{name}'") or ""
    try:
        rule.rows_for(purpose)
    except BadInput as error:
        reader.fault((*said.path, "purpose") if purpose else path, str(error))
    return name, purpose


def _steps(reader: Reader, said: Said, key: str, keys: Sequence[Key]) -> tuple[Step, ...]:
    """Return the steps of a table of widths: limits rising, the last one without."""
    if key not in said.sound:
        return ()
    path = (*said.path, key)
    limit_key = keys[0].name
    steps: list[Step] = []
    inside = reader.tables(said.raw(key), path)
    if not inside and said.raw(key) == []:
        reader.fault(path, "has no steps; write them like [{ up_to_… = 2, width_m = 5 }, { width_m = 10 }]")
    before = 0.0
    for number, (value, at) in enumerate(inside, 1):
        step = reader.table(value, keys, at)
        limit, width = step.number(limit_key), step.number("width_m")
        if "width_m" not in step.named:
            reader.fault(at, "has no width_m")
        if limit_key in step.named and number == len(inside):
            reader.fault(
                (*at, limit_key), f"is the last step and holds for everything beyond; take its {limit_key} out"
            )
        elif limit_key not in step.named and number < len(inside):
            reader.fault(at, f"has no {limit_key}; only the last step goes without")
        elif limit is not None and limit <= before:
            reader.fault((*at, limit_key), f"is {limit:g}, not more than that of the step before, {before:g}")
        before = before if limit is None else limit
        steps.append(Step(limit, width or 0.0))
    return tuple(steps)


def check_room(reader: Reader, margin: Sequence[WidthRule], zones: Sequence[Zone]) -> None:
    """Note zones of fixed width for which the margin cannot be wide enough anywhere."""
    shares = sum(zone.share or 0.0 for zone in zones)
    if not margin or shares > 1 + ROUNDING:
        return
    widest = max(_widest_m(rule) for rule in margin)
    room = widest * max(1 - shares, 0.0)
    running = 0.0
    for place, zone in enumerate(zones):
        running += zone.width_m or 0.0
        if zone.width_m and running > room + 1e-6:
            together = sum(other.width_m or 0.0 for other in zones)
            left = f", of which shares leave {room:.4g} m" if shares else ""
            line = reader.line(("width",))
            reader.fault(
                ("zone", place, "width_m"),
                f"the zones are {together:.4g} m wide together, but the margin (line {line}) is {widest:.4g} m"
                f" at most{left}; make zones narrower or the margin wider",
            )
            return


def _widest_m(rule: WidthRule) -> float:
    """Return the greatest width that a rule can come to, in metres."""
    if rule.width_m is not None:
        asked = rule.width_m
    elif rule.by_channel or rule.by_slope:
        asked = max(step.width_m for step in (*rule.by_channel, *rule.by_slope))
    else:
        asked = rule.most_m
    return min(max(asked, rule.least_m), rule.most_m)
