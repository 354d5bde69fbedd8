"""Field sheet of a pruning: how much there is to do, and the list of trees with boxes for what was done."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from farmmap.plans.pruning.visit import SIGNS, Visit
from farmmap.scene.page_list import ListColumn, TreeList, number_cell
from farmmap.scene.page_tables import PageTable

LEAST_COLUMN_MM = 180.0
"""A list is no narrower, on A4. [mm]"""

LINE_MM = 6.6
"""Height of a line of the list, in which somebody writes with gloves on. [mm]"""

COLUMNS = (
    ListColumn("", 0.034),
    ListColumn("No", 0.040, "right", bold=True),
    ListColumn("Tag", 0.092),
    ListColumn("Species", 0.120),
    ListColumn("cm", 0.046, "right"),
    ListColumn("Due", 0.050),
    ListColumn("Lift", 0.052),
    ListColumn("From m", 0.050, "right"),
    ListColumn("To m", 0.046, "right", bold=True),
    ListColumn("Ladder m", 0.058, "right"),
    ListColumn("Mind", 0.045, bold=True),
    ListColumn("Next m", 0.052, "right"),
    ListColumn("at °", 0.040, "right"),
    ListColumn("Over stubs cm", 0.085, to_fill=True),
    ListColumn("Day", 0.095, to_fill=True),
    ListColumn("Who", 0.095, to_fill=True),
)

TO_FILL = (
    "Over stubs: the largest diameter over the stubs that were left by this lift, by tape, at the thickest whorl. Tick "
    "a tree when it is done, and write the day and who did it; a tree that was left gets a line through it."
)


def lifts_table(trees: Visit) -> PageTable:
    """Return how many trees of each species are due for which lift, and how high the ladder is."""
    counts = Counter(
        (species or "–", lift, number_cell(to, 1), number_cell(ladder, 1) or "–")
        for species, lift, to, ladder in zip(
            trees.species.tolist(), trees.lift.tolist(), trees.to_m.tolist(), trees.ladder_m.tolist(), strict=True
        )
    )
    rows = tuple(
        (*line, str(counts[line])) for line in sorted(counts, key=lambda line: (line[0].casefold(), *line[1:]))
    )
    heads = (("Species",), ("Lift",), ("To", "m"), ("Ladder", "m"), ("Trees",))
    return PageTable("lifts", "What there is to prune", heads, 2, rows, "lift", "lifts", "the list")


def pruning_rows(trees: Visit) -> TreeList:
    """Return the list of the trees in walking order; those near a power line stand out."""
    near = np.array(["L" in signs for signs in trees.signs.tolist()], bool)
    held = "".join(trees.signs.tolist())
    signs = "; ".join(f"{sign}: {words}" for sign, words in SIGNS.items() if sign in held)
    told = (TO_FILL, *((f"Mind: {signs}.",) if signs else ()))
    return TreeList(COLUMNS, tuple(_rows(trees)), tuple(near.tolist()), LEAST_COLUMN_MM, LINE_MM, told)


def _rows(trees: Visit) -> Iterator[tuple[str, ...]]:
    for number, (tag, species, dbh, due, lift, low, to, ladder, signs, away, bearing) in enumerate(
        zip(
            trees.tag.tolist(), trees.species.tolist(), trees.dbh_cm.tolist(), trees.due.tolist(), trees.lift.tolist(),
            trees.from_m.tolist(), trees.to_m.tolist(), trees.ladder_m.tolist(), trees.signs.tolist(),
            trees.to_next_m.tolist(), trees.to_next_deg.tolist(), strict=True,
        ),
        start=1,
    ):  # fmt: skip
        figures = (number_cell(value, 1) for value in (low, to, ladder))
        way = (number_cell(away, 1), number_cell(bearing, 0))
        words = (str(number), tag or "–", species or "–", number_cell(dbh, 1), due, lift)
        yield (*words, *figures, signs, *way, *("" for column in COLUMNS if column.to_fill))
