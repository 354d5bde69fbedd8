"""The smaller parts of a recipe from what a file says: set-backs, fence, orders, money, the recipe's own plants."""

from __future__ import annotations

from dataclasses import fields
from itertools import pairwise
from typing import Any

from farmmap.farm.schema import ORIGINS
from farmmap.farm.species import plain
from farmmap.plans.planting.recipes.keys import (
    FENCE,
    KIND,
    MONEY_MOST,
    ORDER,
    SET_BACK_SOURCES,
    SET_BACKS,
    SHARE,
    STOCKS,
    Holds,
    Key,
)
from farmmap.plans.planting.recipes.kinds import FORMS
from farmmap.plans.planting.recipes.rates import KINDS as COST_KINDS
from farmmap.plans.planting.recipes.rates import UNITS
from farmmap.plans.planting.recipes.recipe import FenceWish, PlantKind, SetBacks, Share, StockOrder
from farmmap.plans.planting.recipes.set_back_choices import default_sources, set_back_choices
from farmmap.plans.planting.recipes.table_reading import Reader, Said
from farmmap.plans.planting.recipes.toml_lines import Path

OTHERS = "others"
"""Table under ``shares`` that holds for every kind of cost that has none of its own."""

_MONEY = Key("", Holds.NUMBER, "", most=MONEY_MOST)


def set_backs(reader: Reader, value: object) -> SetBacks:
    """Return the set-backs; each with where it comes from."""
    said = reader.table(value, SET_BACKS, ("set_backs",))
    sources = dict(default_sources())
    distances: dict[str, float | None] = {}
    for attribute in fields(SetBacks):
        key = attribute.name
        if key == "source" or key not in said.named:
            continue
        number = said.number(key)
        distances[key] = number if key in said.sound else None
        sources[key] = "the recipe" if number is not None else "the recipe: only the thing itself is kept clear"
    for key in (key.name for key in SET_BACKS if key.holds is Holds.TEXT):
        if key in said.sound:
            _choose(reader, said, key, distances, sources)
    if "source" in said.sound:
        told = reader.table(said.raw("source"), SET_BACK_SOURCES, ("set_backs", "source"))
        sources |= {key: told.text(key) for key in told.sound}
        sources = {key: words for key, words in sources.items() if words}
    return SetBacks(**distances, source=sources)  # type: ignore[arg-type]  # crown_m may not be "none", see its key


def _choose(reader: Reader, said: Said, key: str, distances: dict[str, float | None], sources: dict[str, str]) -> None:
    """Put in a published distance that was chosen by name."""
    path = (*said.path, key)
    if f"{key}_m" in said.named:
        reader.fault(path, f"{key} and {key}_m are both given; keep one of them")
        return
    choices = {choice.choice: choice for choice in set_back_choices() if choice.thing == key}
    word = reader.word(said.text(key), choices, path, "published distance that farmmap knows")
    if word is not None:
        distances[f"{key}_m"] = choices[word].distance_m
        sources[f"{key}_m"] = choices[word].told


def fence(reader: Reader, value: object) -> FenceWish:
    """Return the fence that is wished for."""
    said: dict[str, Any] = reader.table(value, FENCE, ("fence",)).only()
    return FenceWish(**said)


def orders(reader: Reader, value: object) -> dict[str, StockOrder]:
    """Return how plants are ordered, by stock."""
    found: dict[str, StockOrder] = {}
    for stock, inside in reader.named_tables(value, ("order",), STOCKS).items():
        said: dict[str, Any] = reader.table(inside, ORDER, _written(value, ("order",), stock)).only()
        found[stock] = StockOrder(**said)
    return found


def rates(reader: Reader, value: object) -> dict[str, float]:
    """Return money for one unit, by the names of `UNITS`."""
    named = reader.named_tables(value, ("rates",), UNITS)
    money = {name: reader.number(inside, _MONEY, _written(value, ("rates",), name)) for name, inside in named.items()}
    return {name: rate for name, rate in money.items() if rate is not None}


def shares(reader: Reader, value: object) -> dict[str, Share]:
    """Return who bears what, by kind of cost; "" for all others."""
    found: dict[str, Share] = {}
    for kind, inside in reader.named_tables(value, ("shares",), (*COST_KINDS, OTHERS)).items():
        path = _written(value, ("shares",), kind)
        said: dict[str, Any] = reader.table(inside, SHARE, path).only()
        share = Share(**said)
        if share.grant_percent + share.in_kind_percent > 100 + 1e-9:
            total = share.grant_percent + share.in_kind_percent
            reader.fault(path, f"grant and in kind are {total:g} % together; 100 % at most")
        found["" if kind == OTHERS else kind] = share
    return found


def prices(reader: Reader, value: object) -> dict[str, float]:
    """Return the price of one plant, by species as it is written there."""
    if not isinstance(value, dict):
        reader.table(value, (), ("prices",))
        return {}
    money = {word: reader.number(price, _MONEY, ("prices", word)) for word, price in value.items()}
    return {word: price for word, price in money.items() if price is not None}


def kinds(reader: Reader, value: object) -> tuple[PlantKind, ...]:
    """Return the plants that the recipe brings along itself."""
    found: list[PlantKind] = []
    taken: dict[str, str] = {}
    for inside, path in reader.tables(value, ("kind",)):
        said = reader.table(inside, KIND, path)
        if said.text("name"):
            reader.titles[path] = f"kind '{said.text('name')}'"
        kind = _kind(reader, said)
        for word in {plain(kind.code), plain(kind.name)} - {""}:
            if word in taken:
                reader.fault(path, f"another kind of the recipe is called '{taken[word]}' already; choose another")
            taken[word] = kind.name
        found.append(kind)
    return tuple(found)


def _kind(reader: Reader, said: Said) -> PlantKind:
    name = said.text("name")
    if not plain(name) and ("name" in said.sound or "name" not in said.named):
        reader.fault(said.path, 'has no name; say what the plant is called: name = "…"')
    form = reader.word(said.text("form", "tree"), FORMS, (*said.path, "form"), "form") or "tree"
    origin = said.text("origin")
    if origin:
        origin = reader.word(origin, [word for word in ORIGINS if word], (*said.path, "origin"), "origin") or ""
    years, crown_m, height_m = (_numbers(said, key) for key in ("years", "crown_m", "height_m"))
    growth = {"years", "crown_m", "height_m"}
    if growth & said.named <= said.sound.keys():
        if not len(years) == len(crown_m) == len(height_m):
            reader.fault(
                said.path,
                f"gives {len(years)} years, {len(crown_m)} crowns and {len(height_m)} heights;"
                " give as many of each, or none at all for the general growth of its form",
            )
        elif any(later <= earlier for earlier, later in pairwise(years)):
            reader.fault((*said.path, "years"), "must rise from one to the next")
    source = said.text("source") or ("the recipe" if years else "")
    return PlantKind(
        said.text("code") or name, name, said.text("scientific"), form, origin, years, crown_m, height_m, source
    )


def _numbers(said: Said, key: str) -> tuple[float, ...]:
    value = said.sound.get(key, ())
    assert isinstance(value, tuple)  # as its key is described
    return value


def _written(value: object, path: Path, name: str) -> Path:
    """Return the path of an entry whose name may be written in another case."""
    assert isinstance(value, dict)  # it had that entry
    return (*path, next(word for word in value if plain(word) == plain(name)))
