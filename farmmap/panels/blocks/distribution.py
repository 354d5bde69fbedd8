"""Diameter classes and species of one block, or of all blocks together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

Row = Mapping[str, object]


def parts_of(rows: Iterable[Row], key: str) -> list[Mapping[str, Any]]:
    """Return the mappings that rows hold under a key, one row's after the other's."""
    return [part for row in rows for part in cast("Sequence[Mapping[str, Any]]", row.get(key) or ())]


def classes_of(rows: Iterable[Row]) -> list[tuple[float, float, int]]:
    """Return diameter classes with the trees in each, without a gap from the first to the last that has any.

    Parameters
    ----------
    rows : iterable of mapping
        Rows of `farmmap.figures.blocks.block_figures`, all of one class width.

    Returns
    -------
    list of (from_cm, to_cm, trees)
        Lower and upper bound of each class and the trees in it. [cm, cm, 1]
    """
    parts = parts_of(rows, "diameter_classes")
    if not parts:
        return []
    width = float(parts[0]["to_cm"]) - float(parts[0]["from_cm"])
    counts: Counter[int] = Counter()
    for part in parts:
        counts[round(float(part["from_cm"]) / width)] += int(part["stems"])
    held = [place for place, count in counts.items() if count]
    if not held:
        return []
    return [(place * width, (place + 1) * width, counts[place]) for place in range(min(held), max(held) + 1)]


def species_of(rows: Iterable[Row]) -> list[tuple[str, str, int]]:
    """Return name, code and stems of each species, the commonest first."""
    stems: Counter[tuple[str, str]] = Counter()
    for part in parts_of(rows, "species"):
        stems[str(part["species"]), str(part["code"])] += int(part["stems"])
    return [(name, code, count) for (name, code), count in stems.most_common()]
