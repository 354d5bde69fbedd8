"""The harvest table as stacked bars: which parts each five years has, and how species are told apart."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence

from farmmap.panels.products.stacked_chart import Kind, Stack
from farmmap.scene.symbols import UNKNOWN_COLOUR, SpeciesSymbol

MOST_SPECIES = 7
"""Species with a part of their own; all others stand together."""

OTHERS = Kind("all other species", UNKNOWN_COLOUR, 0, "…")


def harvest_stacks(
    rows: Sequence[Mapping[str, object]], symbols: Mapping[str, SpeciesSymbol]
) -> tuple[list[Stack], list[Kind]]:
    """Return a bar for each five years, those without harvest between others too, and their kinds.

    Parameters
    ----------
    rows : sequence of mapping
        Rows of `farmmap.plans.harvest.harvest_table.harvest_table`.
    symbols : mapping of str to SpeciesSymbol
        How species are drawn, by code.
    """
    told = [row for row in rows if row.get("first_year") is not None and row.get("stem_volume_m3") is not None]
    totals: defaultdict[str, float] = defaultdict(float)
    for row in told:
        totals[str(row["code"])] += _number(row, "stem_volume_m3")
    largest = sorted(totals, key=lambda code: -totals[code])
    shown = largest if len(largest) <= MOST_SPECIES + 1 else largest[:MOST_SPECIES]
    names = {str(row["code"]): str(row["species"]) for row in told}
    kinds = {code: _kind(code, names[code], place, symbols) for place, code in enumerate(shown)}
    by_year: defaultdict[int, list[Mapping[str, object]]] = defaultdict(list)
    for row in told:
        by_year[int(_number(row, "first_year"))].append(row)
    stacks = []
    for year in range(min(by_year), max(by_year) + 1, 5) if by_year else ():
        parts: defaultdict[Kind, float] = defaultdict(float)
        for row in by_year[year]:
            parts[kinds.get(str(row["code"]), OTHERS)] += _number(row, "stem_volume_m3")
        order = [kind for kind in (*kinds.values(), OTHERS) if kind in parts]
        low, high = (sum(_edge(row, f"stem_volume_{end}_m3") for row in by_year[year]) for end in ("low", "high"))
        stacks.append(Stack(f"{year}–{(year + 4) % 100:02d}", tuple((kind, parts[kind]) for kind in order), low, high))
    return stacks, [*kinds.values(), *([OTHERS] if len(shown) < len(largest) else [])]


def _kind(code: str, name: str, place: int, symbols: Mapping[str, SpeciesSymbol]) -> Kind:
    symbol = symbols.get(code)
    if symbol is None:
        return Kind(name, UNKNOWN_COLOUR, place, "?")
    return Kind(name, symbol.colour, place, symbol.letter)


def _edge(row: Mapping[str, object], name: str) -> float:
    value = row.get(name)
    return float(value) if isinstance(value, int | float) else math.nan


def _number(row: Mapping[str, object], name: str) -> float:
    value = row.get(name)
    return float(value) if isinstance(value, int | float) else 0.0
