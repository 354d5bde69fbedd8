"""Diameter classes and species of one block, or of all blocks together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, cast

Row = Mapping[str, object]
_Species = tuple[str, str]


class Distribution:
    """Diameter classes and species of all rows together, counted anew only for rows that are others than before."""

    def __init__(self) -> None:
        self._rows: Sequence[Row] = ()
        self._classes: Counter[tuple[float, int]] = Counter()
        self._species: Counter[_Species] = Counter()

    def count(self, rows: Sequence[Row]) -> None:
        """Be about these rows, which are kept and must not be changed."""
        before = self._rows
        if len(rows) == len(before):
            differ = [place for place, row in enumerate(rows) if row is not before[place]]
            gone, new = [before[place] for place in differ], [rows[place] for place in differ]
        else:
            gone, new = [], list(rows)
            self._classes.clear()
            self._species.clear()
        self._classes.subtract(_class_counts(gone))
        self._classes.update(_class_counts(new))
        self._species.subtract(_species_counts(gone))
        self._species.update(_species_counts(new))
        self._rows = rows

    def classes(self) -> list[tuple[float, float, int]]:
        """As `classes_of` for all rows."""
        return _without_gaps(self._classes)

    def species(self) -> list[tuple[str, str, int]]:
        """As `species_of` for all rows."""
        return _commonest_first(self._species)


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
    return _without_gaps(_class_counts(rows))


def species_of(rows: Iterable[Row]) -> list[tuple[str, str, int]]:
    """Return name, code and stems of each species, the commonest first."""
    return _commonest_first(_species_counts(rows))


def _class_counts(rows: Iterable[Row]) -> Counter[tuple[float, int]]:
    """Count trees by width of the class and its place from zero on."""
    counts: Counter[tuple[float, int]] = Counter()
    for part in parts_of(rows, "diameter_classes"):
        low = float(part["from_cm"])
        width = float(part["to_cm"]) - low
        counts[width, round(low / width)] += int(part["stems"])
    return counts


def _without_gaps(counts: Counter[tuple[float, int]]) -> list[tuple[float, float, int]]:
    held = [key for key, count in counts.items() if count]
    if not held:
        return []
    width = held[0][0]
    places = [place for _, place in held]
    return [(place * width, (place + 1) * width, counts[width, place]) for place in range(min(places), max(places) + 1)]


def _species_counts(rows: Iterable[Row]) -> Counter[_Species]:
    stems: Counter[_Species] = Counter()
    for part in parts_of(rows, "species"):
        stems[str(part["species"]), str(part["code"])] += int(part["stems"] or 0)
    return stems


def _commonest_first(stems: Counter[_Species]) -> list[tuple[str, str, int]]:
    return [(name, code, count) for (name, code), count in stems.most_common() if count]
