"""Field sheet for measuring a block's trees: what was read of them last, and boxes for what is read now."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from farmmap.farm.day_words import in_words
from farmmap.plans.measuring import CROP, Days, MeasuringRound
from farmmap.scene.page_list import ListColumn, TreeList, number_cell
from farmmap.scene.page_tables import PageTable

LEAST_COLUMN_MM = 180.0
"""A list is no narrower, on A4. [mm]"""

LINE_MM = 7.0
"""Height of a line of the list, in which somebody writes with a pencil; 6 mm at least by common practice. [mm]"""

POINTS = 7.4
"""Size of type of the list, on A4. [pt]"""

EMPTY_LINES = 4
"""Lines for trees that are found besides, at the least."""

COLUMNS = (
    ListColumn("", 0.034),
    ListColumn("No", 0.042, "right", bold=True),
    ListColumn("Tag", 0.088),
    ListColumn("Species", 0.120),
    ListColumn("Last cm", 0.050, "right"),
    ListColumn("of", 0.044),
    ListColumn("Last m", 0.046, "right"),
    ListColumn("of", 0.044),
    ListColumn("Next m", 0.050, "right"),
    ListColumn("at °", 0.038, "right"),
    ListColumn("Diameter cm", 0.085, to_fill=True),
    ListColumn("Height m", 0.070, to_fill=True),
    ListColumn("Crown m", 0.068, to_fill=True),
    ListColumn("Pruned m", 0.068, to_fill=True),
    ListColumn("Note", 0.153, to_fill=True),
)


BY_WHOM = "Day ______________________   Measured by ____________________________________"
HOW_TO = (
    "Diameter over bark by tape at {breast:g} m above the ground, from the uphill side. Crown: its width, the mean of "
    "two across each other. Pruned: the height up to which it is pruned. Tick a tree when it is done; write “dead” or "
    "“gone” in the note, and leave empty what was not read. The last readings are given with their month and year."
)
FOUND_BESIDES = (
    "A tree that is not on the list: write it on an empty line, and in its note how far from which number it stands, "
    "and in which direction."
)
SEVERAL = "Where the note says so, a tree has several stems: write the diameter of each, with commas."


def measuring_rows(trees: MeasuringRound, breast_height_m: float) -> TreeList:
    """Return the list of the trees in walking order; crop trees stand out.

    Parameters
    ----------
    trees : MeasuringRound
        The trees.
    breast_height_m : float
        Height at which diameters are taken. [m]
    """
    bold = tuple((trees.mark == CROP).tolist())
    several = (SEVERAL,) if (trees.stems > 1).any() else ()
    told = (BY_WHOM, HOW_TO.format(breast=breast_height_m), FOUND_BESIDES, *several)
    return TreeList(COLUMNS, tuple(_rows(trees)), bold, LEAST_COLUMN_MM, LINE_MM, told, EMPTY_LINES, POINTS)


def species_table(trees: MeasuringRound) -> PageTable:
    """Return how many trees of each species there are, and how many of them were measured before."""
    species = [name or "–" for name in trees.species.tolist()]
    many, tape = Counter(species), Counter(np.array(species, object)[~np.isnan(trees.dbh_cm)].tolist())
    heights = Counter(np.array(species, object)[~np.isnan(trees.height_m)].tolist())
    rows = tuple(
        (name, str(many[name]), str(tape[name]), str(heights[name])) for name in sorted(many, key=str.casefold)
    )
    heads = (("Species",), ("Trees",), ("With a", "diameter"), ("With a", "height"))
    return PageTable("species", "What there is to measure", heads, 1, rows, "species", "species", "the list")


def last_read_words(trees: MeasuringRound) -> str:
    """Say of when the last readings are."""
    read = np.concatenate([trees.dbh_on, trees.height_on])
    read = read[~np.isnat(read)]
    if not len(read):
        return "None of these trees was measured yet."
    first, last = (in_words(day.astype("datetime64[D]").item()) for day in (read.min(), read.max()))
    if first == last:
        return f"The last readings are of {first}."
    return f"The last readings are of {first} to {last}."


def _rows(trees: MeasuringRound) -> Iterator[tuple[str, ...]]:
    for number, (tag, species, stems, dbh, dbh_on, height, height_on, away, bearing) in enumerate(
        zip(
            trees.tag.tolist(), trees.species.tolist(), trees.stems.tolist(), trees.dbh_cm.tolist(),
            _months(trees.dbh_on), trees.height_m.tolist(), _months(trees.height_on), trees.to_next_m.tolist(),
            trees.to_next_deg.tolist(), strict=True,
        ),
        start=1,
    ):  # fmt: skip
        read = (number_cell(dbh, 1), dbh_on, number_cell(height, 1), height_on)
        way = (number_cell(away, 1), number_cell(bearing, 0))
        note = f"{stems} stems" if stems > 1 else ""
        yield (str(number), tag or "–", species or "–", *read, *way, "", "", "", "", note)


def _months(days: Days) -> list[str]:
    """Return month and year of days, nothing where there is none."""
    return ["" if day is None else f"{day:%m/%y}" for day in days.astype("datetime64[D]").tolist()]
