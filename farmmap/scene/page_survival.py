"""Field sheet for a survival count: what was planted in each zone, and boxes for what lives of it."""

from __future__ import annotations

from farmmap.editing.words import listed
from farmmap.plans.planting.keeping.counting import SAMPLE, STRIP_M, SurvivalCount
from farmmap.plans.planting.keeping.gapping import SURE, wilson
from farmmap.scene.page_list import ListColumn, TreeList

LEAST_COLUMN_MM = 180.0
"""A list is no narrower, on A4. [mm]"""

LINE_MM = 9.0
"""Height of a line, in which a stroke is made for each plant. [mm]"""

POINTS = 8.2
"""Size of type of the list, on A4. [pt]"""

EMPTY_LINES = 4
"""Lines for single strips and for what is found besides, at the least."""

COLUMNS = (
    ListColumn("", 0.045),
    ListColumn("Zone", 0.125),
    ListColumn("Kind", 0.125),
    ListColumn("Stock", 0.090),
    ListColumn("Planted", 0.060, "right", bold=True),
    ListColumn("Look at", 0.060, "right"),
    ListColumn("Counted", 0.165, to_fill=True),
    ListColumn("Alive", 0.165, to_fill=True),
    ListColumn("Cause", 0.165, to_fill=True),
)

CAUSES = (
    "W weeds or grass, D dry, F flood or wet ground, C cold, S stock, A other animals, P pest or disease, M missing, "
    "? not known"
)

_ALIVE = 80


BY_WHOM = "Day ______________________   Counted by ____________________________________"
HOW_TO = (
    "Counted: all places of plants that you look at, those of dead and of missing plants among them. Alive: those of "
    "them that live. Make a stroke for each, every fifth across the four before it; write the sum at the end, and tick "
    f"the line. Cause of death, where it shows: {CAUSES}."
)
ALL = "Count all of them. Empty lines are for what is found besides."
STRIPS = (
    "Not all need to be counted: in strips {strip:g} m wide, right across the zone from the water outwards, along the "
    "bank in {where}, and the first half as far from its upper end, wherever they fall.{others} “Look at” is about how "
    "many plants they hold. The sums of all strips go on one line; empty lines are for single strips. {alive} alive "
    "of {sample} counted mean that {least} to {most} in a hundred live (sure to {sure:g} %)."
)


def survival_rows(count: SurvivalCount) -> TreeList:
    """Return the list of what to count, with how to go about it above."""
    rows = tuple(
        (one.zone, one.kind, one.stock or "–", _whole(one.planted), _whole(one.look_at), "", "", "")
        for one in count.lines
    )
    told = (BY_WHOM, HOW_TO, _strips(count) if count.spacing_m else ALL)
    return TreeList(COLUMNS, rows, (True,) * len(rows), LEAST_COLUMN_MM, LINE_MM, told, EMPTY_LINES, POINTS)


def _strips(count: SurvivalCount) -> str:
    """Say how strips are laid where not all plants are counted, and what so many plants say."""
    found = wilson(_ALIVE, SAMPLE)
    zones = {one.zone for one in count.lines}
    return STRIPS.format(
        strip=STRIP_M,
        where=listed([f"{zone} every {spacing} m" for zone, spacing in count.spacing_m.items()], most=12),
        others=" All other zones are counted in full." if len(count.spacing_m) < len(zones) else "",
        alive=_ALIVE,
        sample=SAMPLE,
        least=f"{100 * found.least:.0f}",
        most=f"{100 * found.most:.0f}",
        sure=100 * SURE,
    )


def type_in_words(name: str, count: SurvivalCount) -> str:
    """Say how the sums are typed in."""
    first = count.lines[0]
    return (
        "At home, type the sums in: in the window with “Replace the dead…” at the plan, or on the command line with "
        f"farmmap replant FARM.gpkg --plan “{name}” --alive “{first.zone}: {first.kind}=ALIVE/COUNTED”, with --alive "
        "again for each line."
    )


def _whole(number: int) -> str:
    return f"{number:,}".replace(",", "\u202f")
